"""The camera cut out the middle and enlarged it: digital zoom."""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.wording import say

LIMIT_TIMES = 1.05  # below this a tag is rounding, not zoom


class DigitalZoom(Finding):
    slug = "digital-zoom"
    topic = "digital-zoom"
    needs = ("digital_zoom_ratio",)
    limit = LIMIT_TIMES
    limit_means = "largest digital zoom"
    weight = 0.6
    title = "Digital zoom was on"
    why = "Digital zoom enlarges the middle of the picture and adds no detail."
    wording = say("{times:.2g} times digital zoom: the camera kept only the middle.")
    remedy = say("Zoom back to where the lens ends, then move closer.")

    fires_on = sample("recorded", digital_zoom_ratio=6.0)
    quiet_on = sample("recorded", digital_zoom_ratio=1.0)

    def numbers(self, at: Mapping[str, float], reading: object) -> dict[str, float]:
        return {"times": at["digital_zoom_ratio"]}

    def is_raised(self, numbers: Mapping[str, float]) -> bool:
        return numbers["times"] > numbers["limit"]

"""Light and dark bands across the frame: a lamp flickered while the shutter ran down."""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import say

LIMIT_SHARE = 0.02  # peak to peak, of the light; common practice, no source


class Banding(Finding):
    slug = "banding"
    topic = "flicker"
    needs = ("banding_share",)
    limit = LIMIT_SHARE
    limit_means = "depth of the bands, as a share of the light"
    weight = 0.6
    of_one_exposure = True
    title = "Bands from a lamp"
    why = "Lamps on the mains and dimmed ones flicker; an electronic shutter draws it as bands."
    wording = say("Bands {share:share} deep run across the frame.")
    remedy = say("Try 1/50 or 1/100 s (1/60 or 1/120 where the mains have 60 Hz), or another lamp.")
    here = say("Light and dark bands, one under the other.")

    fires_on = sample(banding_share=0.08, banding_period_px=240.0)
    quiet_on = sample(banding_share=0.0)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        return {"share": at["banding_share"]}

    def is_raised(self, numbers: Mapping[str, float]) -> bool:
        return numbers["share"] > numbers["limit"]

"""Shadows without detail. A black ground may be meant, so it is always asked, never stated."""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.wording import say

LIMIT_SHARE = 0.25  # of the frame; common practice, no source


class BlockedShadows(Finding):
    slug = "blocked-shadows"
    topic = "shadows"
    needs = ("blocked_share",)
    limit = LIMIT_SHARE
    limit_means = "share of the frame blocked up"
    weight = 0.4
    likely = True
    title = "Blocked up shadows"
    why = "What got no light has no detail; a black ground may be just what you wanted."
    wording = say("{share:share} of the frame is black without detail.")
    remedy = say("Put a white card opposite the lamp, or a slower shutter for the ground.")
    here = say("Here the shadow holds nothing,")
    good = say("and here it still does.")

    fires_on = sample(blocked_share=0.4)
    quiet_on = sample(blocked_share=0.02)

    def numbers(self, at: Mapping[str, float], reading: object) -> dict[str, float]:
        return {"share": at["blocked_share"]}

    def is_raised(self, numbers: Mapping[str, float]) -> bool:
        return numbers["share"] > numbers["limit"]

"""Shadows without detail. A black ground may be meant, so it is asked, never stated.

Black that ends within the frame is a shadow on the thing; black that runs out of it is a ground.
"""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import Spread, say

LIMIT_SHARE = 0.025  # of the frame, a black ground left out; common practice, no source
MUCH = 0.25  # of the frame black, ground and all: worth asking


class BlockedShadows(Finding):
    slug = "blocked-shadows"
    topic = "shadows"
    needs = ("blocked_share", "blocked_inside_share")
    limit = LIMIT_SHARE
    limit_means = "share of the frame blocked up, a black ground left out"
    weight = 0.4
    likely = True
    title = "Blocked up shadows"
    why = "What got no light has no detail; a black ground may be just what you wanted."
    wording = say("{share:share} of the frame is black without detail, within the subject.")
    remedy = say("Put a white card opposite the lamp, or a slower shutter for the ground.")
    here = say("Here the shadow holds nothing,")
    good = say("and here it still does.")

    fires_on = sample(blocked_share=0.15, blocked_inside_share=0.1)
    quiet_on = sample(blocked_share=0.02, blocked_inside_share=0.005)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        return {"black": at["blocked_share"], "share": at["blocked_inside_share"]}

    def is_raised(self, numbers: Mapping[str, float]) -> bool | None:
        if numbers["share"] > numbers["limit"]:
            return True
        return None if numbers["black"] > MUCH else False

    def undecided(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        return f"{numbers['black']:share} is black and runs out of the frame: it may be meant."

"""Highlights without detail, beyond what dew and wet shells rightly show.

Small glints are taken off; burnt parts outside the sharp zone (a white table, a bright sky) may
be meant, so they leave the question open.
"""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import Spread, say

LIMIT_SHARE = 0.01  # of the frame; common practice, no source
IN_SHARP_SHARE = 0.005
#: A small subject's burnt part is little of the frame; so much of what is sharp is burnt all the
#: same, unless it is next to nothing of the frame: of the line, this part.
MUCH_IN_SHARP, LEAST_OF_LIMIT = 0.035, 0.2


class BurntHighlights(Finding):
    slug = "burnt-highlights"
    topic = "highlights"
    needs = ("clipped_share",)
    limit = LIMIT_SHARE
    limit_means = "share of the frame burnt out, glints taken off"
    weight = 0.7
    title = "Burnt out highlights"
    why = "A small hard lamp or the sun writes white where the subject had detail."
    wording = say("{share:share} of the frame has burnt out to white or to one colour.")
    remedy = say("Hold a diffuser close to the subject, and meter again.")
    here = say("Here the surface is gone,")
    good = say("and here, nearly as bright, it still shows.")

    fires_on = sample(clipped_share=0.06, glint_share=0.001, clipped_in_sharp_share=0.12)
    quiet_on = sample(clipped_share=0.004, glint_share=0.003, clipped_in_sharp_share=0.0)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        glints = reading["glint_share"]
        numbers = {
            "clipped": at["clipped_share"],
            "share": max(0.0, at["clipped_share"] - (glints.middle if glints else 0.0)),
        }
        if in_sharp := reading["clipped_in_sharp_share"]:
            numbers["in_sharp"] = in_sharp.middle
        return numbers

    def is_raised(self, numbers: Mapping[str, float]) -> bool | None:
        much = numbers.get("in_sharp", 0.0) > MUCH_IN_SHARP
        if numbers["share"] <= numbers["limit"]:
            return much and numbers["share"] > LEAST_OF_LIMIT * numbers["limit"]
        return True if numbers.get("in_sharp", 1.0) > IN_SHARP_SHARE else None

    def undecided(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        return (
            f"{numbers['share']:share} has burnt out, all outside the sharp part: it may be meant."
        )

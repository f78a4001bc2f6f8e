"""The camera moved during the exposure: measured from pixels, else suspected from the time.

Pixels decide where they can. Without them only a frame told to be hand-held, without flash, with
an exposure beyond the rule of the focal length, is said to be likely: never more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from shootlog.findings.base import Finding, Outcome, Sure
from shootlog.findings.proof import Proof
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import Spread, say

LIMIT_TIMES = 1.0  # exposure over the longest one by hand
LIMIT_SMEAR_PX = 3.0  # common practice, no source: what shows at full size
TOUCH_S = (1 / 60, 1.0)  # where shutter, mirror and a finger show on a tripod


class Shake(Finding):
    slug = "shake"
    topic = "shake"
    needs = ("exposure_s", "shake_limit_s")
    limit = LIMIT_TIMES
    limit_means = "exposure over the longest one by hand"
    weight = 0.9
    of_one_exposure = True
    title = "The camera moved"
    why = "At life size a tremble nobody feels is dozens of pixels."
    wording = say("{exposure_s:seconds} by hand, where {limit_s:seconds} is about the longest.")
    smear_wording = say("{smear_px:.0f} pixels of smear, the same way across the whole frame.")
    remedy = say("Brace both elbows, shoot a burst of six at {limit_s:seconds} and keep the best.")
    smear_remedy = say("Set it on a tripod or a bean bag, and let the timer release.")
    here = say("Here every edge is drawn out, the same way.")

    fires_on = sample("told", exposure_s=1 / 30, shake_limit_s=1 / 200, support="hand")
    quiet_on = sample("told", exposure_s=1 / 500, shake_limit_s=1 / 200, support="hand")

    def examine(self, reading: Reading, limit: float | None = None) -> Outcome:
        """Let the pixels answer where they can, with the line kept in pixels."""
        by_pixels = self._by_pixels(reading)
        return by_pixels or super().examine(reading, limit)

    def with_limit(self, outcome: Outcome, limit: float, reading: Reading) -> Outcome:
        """Keep an answer of the pixels: the line of a brief is one of exposure times."""
        if "smear_px" in outcome.numbers:
            return outcome
        return super().with_limit(outcome, limit, reading)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        return {
            "exposure_s": at["exposure_s"],
            "limit_s": at["shake_limit_s"],
            "times": at["exposure_s"] / at["shake_limit_s"],
        }

    def is_raised(self, numbers: Mapping[str, float]) -> bool:
        return numbers["times"] > numbers["limit"]

    def not_for(self, reading: Reading) -> str:
        """Only a frame that could have moved can be suspected."""
        exposure, limit = reading["exposure_s"], reading["shake_limit_s"]
        if exposure is None or limit is None or exposure.high <= limit.low:
            return ""
        if reading.fact("flash_fired"):
            return "Flash fired: its short pulse may have held the picture still."
        support = reading.fact("support")
        if support is None:
            return "Was it by hand or on a tripod? The time alone does not tell."
        if support != "hand":
            touched = TOUCH_S[0] <= exposure.high <= TOUCH_S[1]
            more = " At this time a finger on the camera can show." if touched else ""
            return f"Supported ({support}); only the picture would tell.{more}"
        return ""

    def how_sure(self, reading: Reading) -> Sure:
        exposure, limit = reading["exposure_s"], reading["shake_limit_s"]
        if exposure and limit and exposure.low > limit.high:
            return "likely"
        return super().how_sure(reading)

    def proof(self, reading: Reading) -> Proof | None:
        """Return a crop only where the pixels show it: a slow time alone proves nothing."""
        shown = reading["smear_px"] and reading.fact("smear_where") == "frame"
        return super().proof(reading) if shown else None

    def _by_pixels(self, reading: Reading) -> Outcome | None:
        smear = reading["smear_px"]
        if smear is None or self._merged(reading):
            return None
        if smear.high < LIMIT_SMEAR_PX:
            answer = False
        elif smear.low > LIMIT_SMEAR_PX and reading.fact("smear_where") == "frame":
            answer = True
        else:
            return None
        numbers = {"smear_px": smear.spread, "limit": Spread((LIMIT_SMEAR_PX,))}
        if angle := reading["smear_angle_deg"]:
            numbers["angle_deg"] = angle.spread
        if not answer:
            return Outcome(self.slug, "no", "measured", numbers, topic=self.topic)
        words = self.smear_wording.format_map(numbers)
        support, limit = reading.fact("support"), reading["shake_limit_s"]
        remedy = self.smear_remedy
        if support == "tripod":
            remedy = say("Use the two-second timer, and let the tripod settle first.")
        elif support == "hand" and limit and math.isfinite(limit.middle):
            remedy = self.remedy.format(limit_s=Spread((limit.middle,)))
        return Outcome(
            self.slug, "yes", "measured", numbers, words, remedy, (), self.topic,
            self.proof(reading),
        )  # fmt: skip

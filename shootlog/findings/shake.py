"""The camera moved during the exposure: the picture answers, and the time says how likely it was.

A smear that every part of the frame shows is measured. A picture crisp whichever way its edges
face is cleared, however slow, unless all of it shows one pattern. In between, softness counts only
where the frame was held by hand for longer than a hand is still, and only where it is the same
uneven softness in every part, which things out of focus do not have: then it is said as likely,
never more. Where the pixels were not looked at, the time alone is said as likely.
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
#: Share of what shows anything that must show the smear, or it may be the subject's own: on a
#: tripod nothing is said then, by hand it is only likely.
WHOLE_SHARE = 0.95
#: Softer than the opening explains, in the softest way edges face: below this nothing moved far,
CRISP_PX = 1.6
#: and in half of the ways they face: above this all of the frame is soft.
SOFT_ALL_OVER_PX = 2.0
#: How alike all parts of the frame are in what differs between directions. Below the first, soft
#: is as soft as defocus makes it; above the second, a movement or a texture runs through all of
#: it, and crisp edges alone do not clear it (a tremor draws things twice, each time crisp).
UNEVEN_ALIKE, ONE_PATTERN = 0.25, 0.35


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
    seen_wording = say("{exposure_s:seconds} by hand, and no edge is as sharp as it could be.")
    smear_wording = say("{smear_px:.0f} pixels of smear, the same way across the whole frame.")
    remedy = say("Brace both elbows, shoot a burst of six at {limit_s:seconds} and keep the best.")
    smear_remedy = say("Set it on a tripod or a bean bag, and let the timer release.")
    here = say("Here every edge is drawn out, the same way.")

    fires_on = sample("told", exposure_s=1 / 30, shake_limit_s=1 / 200, support="hand")
    quiet_on = sample("told", exposure_s=1 / 500, shake_limit_s=1 / 200, support="hand")

    def examine(self, reading: Reading, limit: float | None = None) -> Outcome:
        """Let the pixels answer where they can, with the line kept in pixels."""
        return self._by_pixels(reading) or self._by_time(reading, limit)

    def with_limit(self, outcome: Outcome, limit: float, reading: Reading) -> Outcome:
        """Keep an answer of the pixels: the line of a brief is one of exposure times."""
        if outcome.numbers.keys() & {"smear_px", "soft_px"}:
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

    def _by_time(self, reading: Reading, limit: float | None) -> Outcome:
        """Suspect by the time; where the picture was looked at, only together with it."""
        suspected = super().examine(reading, limit)
        softness = beyond_the_opening(reading)
        if suspected.answer != "yes" or softness is None:
            return suspected
        middle, softest = softness
        numbers = dict(suspected.numbers) | {"soft_px": Spread((softest,))}
        soft_all_over = middle >= SOFT_ALL_OVER_PX and _alike(reading) >= UNEVEN_ALIKE
        if reading.fact("smear_where") == "maybe" or soft_all_over:
            words = self.seen_wording.format_map(numbers)
            remedy = self.way_out(reading, numbers)
            return Outcome(
                self.slug, "yes", "likely", numbers, words, remedy, (), self.topic,
                self.proof(reading),
            )  # fmt: skip
        words = "Slow for a hand, but the picture does not show whether it moved."
        return self._cannot_tell(numbers, words)

    def _by_pixels(self, reading: Reading) -> Outcome | None:
        if self._merged(reading):
            return None
        smear, softness = reading["smear_px"], beyond_the_opening(reading)
        where = reading.fact("smear_where")
        if smear is not None and smear.low > LIMIT_SMEAR_PX * 0.75 and where == "frame":
            share = reading.fact("smear_share")
            on_legs = reading.fact("support") not in ("hand", None)
            if on_legs and share is not None and share < WHOLE_SHARE:
                words = "Much of the frame is smeared one way: camera or subject moved."
                return self._cannot_tell({"smear_px": smear.spread}, words)
            return self._moved(reading)
        if smear is not None and softness is None and smear.high < LIMIT_SMEAR_PX:
            return self._still({"smear_px": smear.spread, "limit": Spread((LIMIT_SMEAR_PX,))})
        crisp = softness is not None and softness[1] <= CRISP_PX and _alike(reading) < ONE_PATTERN
        if softness is not None and crisp and where is None:
            numbers = {"soft_px": Spread((softness[1],)), "limit": Spread((CRISP_PX,))}
            return self._still(numbers)
        return None

    def _still(self, numbers: Mapping[str, Spread]) -> Outcome:
        return Outcome(self.slug, "no", "measured", numbers, topic=self.topic)

    def _moved(self, reading: Reading) -> Outcome:
        smear = reading["smear_px"]
        assert smear is not None
        numbers = {"smear_px": Spread((smear.middle,)), "limit": Spread((LIMIT_SMEAR_PX,))}
        if angle := reading["smear_angle_deg"]:
            numbers["angle_deg"] = angle.spread
        words = self.smear_wording.format_map(numbers)
        support, limit = reading.fact("support"), reading["shake_limit_s"]
        remedy = self.smear_remedy
        if support == "tripod":
            remedy = say("Use the two-second timer, and let the tripod settle first.")
        elif support == "hand" and limit and math.isfinite(limit.middle):
            remedy = self.remedy.format(limit_s=Spread((limit.middle,)))
        share = reading.fact("smear_share")
        # a thing that swayed before a ground out of focus looks the same from a steady hand
        sure: Sure = "measured" if share is None or share >= WHOLE_SHARE else "likely"
        return Outcome(
            self.slug, "yes", sure, numbers, words, remedy, (), self.topic, self.proof(reading)
        )


def beyond_the_opening(reading: Reading) -> tuple[float, float] | None:
    """Return the softness of the sharpest edges, in half of the ways they face and in all.

    In pixels, with what the opening alone spreads taken off; None where no edges tell.
    """
    middle, softest = reading["crisp_px"], reading["soft_way_px"]
    if middle is None or softest is None:
        return None
    spread_um, pixel_um = reading["diffraction_blur_um"], reading["file_pixel_um"]
    light = spread_um.high / pixel_um.low if spread_um and pixel_um and pixel_um.low > 0 else 0.0
    return max(middle.middle - light, 0.0), max(softest.middle - light, 0.0)


def _alike(reading: Reading) -> float:
    return float(reading.fact("smear_alike") or 0.0)

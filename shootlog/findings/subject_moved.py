"""What was wanted sharp is smeared one way, and what lies around it is not: it moved.

Asked of a camera that stood on something: by hand the same smear may be the hand's, out of step
with a ground that shows too little. Said as likely, never more: a thing drawn in lines of one
width can look the same. Where no such smear is found it may have moved all the same, so that is no
'no' (of 37 rendered movements 23 are not told, and the map calls many of them sharp).
"""

from __future__ import annotations

from collections.abc import Mapping

from optics.evidence.moved import LIMIT_ELSEWHERE
from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.findings.shake import LIMIT_SMEAR_PX
from shootlog.reading import Reading
from shootlog.wording import Spread, say

FAST_PX = 2.0  # of smear that still passes at full size; common practice, no source


class SubjectMoved(Finding):
    slug = "subject-moved"
    topic = "subject-movement"
    needs = ("exposure_s", "moved_px")
    limit = LIMIT_SMEAR_PX
    limit_means = "pixels of smear on the subject alone"
    weight = 0.9
    likely = True
    of_one_exposure = True
    title = "The subject moved"
    why = "A breath of air blurs a flower while the ground beside it stays sharp."
    wording = say("{moved_px:.0f} pixels of smear on your subject alone: it seems to have moved.")
    remedy = say("Wait for a lull, or shoot at {fast_s:seconds} or shorter with more light or ISO.")
    here = say("Here it is drawn out one way,")
    good = say("and here, beside it, all stood still.")

    fires_on = sample(exposure_s=0.5, moved_px=9.0, moved_elsewhere=0.1, support="tripod")
    quiet_on = sample(exposure_s=0.5, moved_px=2.0, moved_elsewhere=0.1, support="tripod")

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        moved = reading["moved_px"]
        assert moved is not None
        numbers = dict(at) | {"fast_s": at["exposure_s"] * FAST_PX / moved.high}
        if (elsewhere := reading.fact("moved_elsewhere")) is not None:
            numbers["elsewhere"] = float(elsewhere)
        return numbers

    def not_for(self, reading: Reading) -> str:
        if reading.fact("flash_fired"):
            return "Flash fired: its short pulse may have held the picture still."
        support = reading.fact("support")
        if support is None:
            return "Was it by hand or on a tripod? The picture alone does not tell who moved."
        if support == "hand":
            return "By hand: camera or subject moved, and the picture does not tell which."
        if reading.fact("smear_where") == "frame":
            return "All of the frame is smeared: camera or subject moved."
        return ""

    def is_raised(self, numbers: Mapping[str, float]) -> bool | None:
        if numbers["moved_px"] <= numbers["limit"]:
            return False
        return True if numbers.get("elsewhere", 1.0) <= LIMIT_ELSEWHERE else None

    def undecided(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        if reading.fact("moved_elsewhere") is None or min(numbers["moved_px"]) > LIMIT_SMEAR_PX:
            return "It is drawn out one way, but the rest does not show that it stood still."
        return super().undecided(reading, numbers)

"""Part of the frame is smeared one way while the rest stood still: wind, or a restless animal."""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.findings.shake import LIMIT_SMEAR_PX
from shootlog.reading import Reading
from shootlog.wording import say


class SubjectMoved(Finding):
    slug = "subject-moved"
    topic = "subject-movement"
    needs = ("smear_px",)
    limit = LIMIT_SMEAR_PX
    limit_means = "pixels of smear in one part of the frame"
    weight = 0.8
    of_one_exposure = True
    title = "The subject moved"
    why = "Close up a breath of wind is a wide sweep; the stone beside it stays sharp."
    wording = say("{smear_px:.0f} pixels of smear in one part of the frame; the rest stood still.")
    remedy = say("Wait for the lull at the end of a sway, or shorten the exposure or add flash.")

    fires_on = sample(smear_px=(6.0, 9.0), smear_where="subject")
    quiet_on = sample(smear_px=0.0)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        here = reading.fact("smear_where") == "subject"
        return {"smear_px": at["smear_px"], "in_part": float(here)}

    def is_raised(self, numbers: Mapping[str, float]) -> bool:
        return numbers["smear_px"] > numbers["limit"] and numbers["in_part"] > 0.0

"""The depth of field is less than the subject is deep. Says how to get more, worked out."""

from __future__ import annotations

import math
from collections.abc import Mapping

from optics.stack import rail_step_mm
from shootlog.findings.base import Finding
from shootlog.findings.diffraction import LIMIT_EFFECTIVE, whole_stop
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import Spread, figures, ratio, say

LIMIT_SHARE = 1.0  # depth of field over the depth of the subject
OVERLAP = 0.25


class ThinDepth(Finding):
    slug = "thin-depth"
    topic = "depth-of-field"
    needs = ("depth_of_field_mm", "subject_depth_mm")
    limit = LIMIT_SHARE
    limit_means = "depth of field over the depth of the subject"
    weight = 0.8
    of_one_exposure = True
    title = "Sharp in a thin band"
    why = "Close up the sharp band is thin; what should lie in it is a choice."
    wording = say("{depth_mm:two} mm of sharp depth for a subject {subject_mm:two} mm deep.")
    remedy = say("Take {slices:.0f} slices of {step_mm:two} mm from front to back.")
    here = say("Here it is soft already,")
    good = say("and here, where it is sharp.")

    fires_on = sample(
        depth_of_field_mm=0.34, subject_depth_mm=5.0, magnification=1.0,
        marked_f_number=2.8, effective_f_number=5.6, coc_um=30.0,
    )  # fmt: skip
    quiet_on = sample(depth_of_field_mm=9.6, subject_depth_mm=5.0)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        depth, subject = at["depth_of_field_mm"], at["subject_depth_mm"]
        step = rail_step_mm(depth, OVERLAP)
        return {
            "depth_mm": depth,
            "subject_mm": subject,
            "share": depth / subject,
            "slices": float(slices(subject, step)),
            "step_mm": step,
        }

    def is_raised(self, numbers: Mapping[str, float]) -> bool:
        return numbers["share"] < numbers["limit"]

    def way_out(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        """Another stop if one is enough, else slices; another distance is named beside it."""
        depth, subject = min(numbers["depth_mm"]), max(numbers["subject_mm"])
        marked, light = reading["marked_f_number"], reading["effective_f_number"]
        m = reading["magnification"]
        if marked and light:
            wanted = light.middle * subject / depth
            if wanted <= LIMIT_EFFECTIVE:
                stop = whole_stop(marked.middle * subject / depth * 1.12)
                return f"Try f/{figures(stop)}: the band grows to {figures(subject)} mm."
        step = min(numbers["step_mm"])
        words = f"Take {max(numbers['slices']):.0f} slices {figures(step)} mm apart, front to back."
        if marked and m and (back := self.far_enough(reading, subject)):
            words += f" Or stand back to {ratio(back)} for one frame."
        return words

    def far_enough(self, reading: Reading, subject_mm: float) -> float | None:
        """Return the magnification at which one frame at this stop holds the subject.

        2 N c (1 + m) / m^2 = T, solved for m.
        """
        marked, coc = reading["marked_f_number"], reading["coc_um"]
        if marked is None or coc is None:
            return None
        reach = marked.middle * coc.middle / 1000 / subject_mm
        return reach * (1 + math.sqrt(1 + 2 / reach))


def slices(subject_mm: float, step_mm: float) -> int:
    """Return how many slices a course asks for: the first before the subject, the last behind.

    That is one or two more than just cover it, as teachers want it (common practice, no source).
    """
    return math.ceil(subject_mm / step_mm - 1e-9) + 1

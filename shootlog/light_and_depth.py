"""What an opening does at a magnification: f-numbers, light lost, depth and blur. Pure.

Depth and blur are worked out at every corner of what is not known (see `opening`), with numbers
that belong together; they rise or fall steadily in magnification and f-number, so the corners
bound the truth.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from optics.best_stop import best_effective_f_number
from optics.blur import total_blur_um
from optics.depth import depth_of_field_mm, wave_depth_of_field_mm
from optics.diffraction import airy_diameter_um
from shootlog.opening import Opening, State
from shootlog.reading import Origin, Quantity

DIFFRACTION_DISC = 1.745  # disc of equal MTF50, in wavelengths times f-number: exact OTF
WAVELENGTH_UM = 0.55  # mid green, within 2 % of what daylight weighs out to
FAR_FIELD = 0.1  # N c / (f m) from which the far side is plainly deeper than the near side


def fill_light_and_depth(
    q: dict[str, Quantity], opening: Opening, magnification: Quantity, depth: float | None
) -> None:
    """Fill f-numbers, light lost and, in mm and µm, depth and blur; `depth` is the subject's in mm.

    What cannot be worked out at every corner stays out.
    """
    basis = tuple({"recorded", *magnification.rests_on})
    coc = q.get("coc_um")

    def fill(name: str, formula: Callable[[State], float], words: str) -> None:
        """Put the formula to every possible truth; keep it only where all are finite."""
        try:
            ends = [formula(state) for state in opening.states if state.magnification > 0]
            best = formula(opening.best) if opening.best else None
        except (ValueError, OverflowError):
            return
        every = ends if best is None else [*ends, best]
        if ends and all(math.isfinite(end) for end in every):
            # A range within 1 % needs no two ends where no habit is known.
            if best is None and max(ends) <= 1.01 * min(ends):
                best = min(max(sum(ends) / len(ends), min(ends)), max(ends))  # a sum rounds
            q[name] = Quantity(best, min(every), max(every), "worked out", words, basis)

    fill("marked_f_number", lambda s: s.marked, opening.words)
    fill("effective_f_number", lambda s: s.effective, opening.words)
    fill("light_lost_stops", lambda s: 2 * math.log2(s.effective / s.marked), "effective / marked")
    fill("airy_diameter_um", lambda s: airy_diameter_um(s.effective), "2.44 x 0.55 µm x f-number")
    fill("diffraction_blur_um", _diffraction_blur_um, "disc of equal contrast at MTF 50 %")
    if pitch := q.get("pixel_pitch_um"):
        airy = q.get("airy_diameter_um")
        if airy:
            best = airy.value / pitch.value if airy.value and pitch.value else None
            q["airy_diameter_px"] = Quantity(
                best, airy.low / pitch.high, airy.high / pitch.low,
                "worked out", "spot over pixel pitch", tuple({*basis, *pitch.rests_on}),
            )  # fmt: skip
    fill(
        "wave_depth_of_field_mm",
        lambda s: wave_depth_of_field_mm(s.effective, s.magnification),
        "quarter wave either side",
    )
    if depth:
        fill("best_f_number", lambda s: best_effective_f_number(depth, s.magnification), "exact")
        fill(
            "blur_at_subject_ends_um",
            lambda s: total_blur_um(
                1000 * s.magnification**2 * depth / (2 * s.effective), s.effective
            ),
            "focus in the middle of the subject",
        )
    if coc:
        _depth_of_field(q, opening, coc, basis)


def _depth_of_field(
    q: dict[str, Quantity], opening: Opening, coc: Quantity, basis: tuple[Origin, ...]
) -> None:
    focal = q.get("focal_length_mm")

    def depth_mm(state: State, coc_um: float) -> float:
        depth = depth_of_field_mm(state.effective, state.magnification, coc_um / 1000)
        if focal is None:
            return depth
        reach = state.marked * coc_um / 1000 / (focal.middle * state.magnification)
        if reach >= 1:
            return math.inf
        return depth / (1 - reach**2) if reach > FAR_FIELD else depth

    states = [s for s in opening.states if s.magnification > 0]
    ends = [depth_mm(s, c) for s in states for c in (coc.low, coc.high)]
    best = None
    if opening.best and coc.value is not None:
        best = depth_mm(opening.best, coc.value)
    words = f"circle of confusion {coc.middle:.0f} µm ({coc.from_})"
    if ends and all(math.isfinite(end) for end in [*ends, best or 0.0]):
        blur = q.get("diffraction_blur_um")
        if blur and blur.low > coc.high:
            words += "; diffraction alone blurs more than that"
        q["depth_of_field_mm"] = Quantity(best, min(ends), max(ends), "worked out", words, basis)
    if opening.best and coc.value is not None:
        value = total_blur_um(coc.value, opening.best.effective)
        low = min(total_blur_um(coc.low, s.effective) for s in states)
        high = max(total_blur_um(coc.high, s.effective) for s in states)
        q["blur_at_depth_limits_um"] = Quantity(
            value, min(low, value), max(high, value), "worked out", words, basis
        )


def _diffraction_blur_um(state: State) -> float:
    return DIFFRACTION_DISC * WAVELENGTH_UM * state.effective

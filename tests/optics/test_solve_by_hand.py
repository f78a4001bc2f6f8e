"""The sweep against the one-way formulas, every combination on its own; the root by scipy."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from optics import accessories, aperture, best_stop, blur, conjugates, exposure, shake
from optics.kit import Light, Subject
from optics.sweep import STOPS, sweep
from tests.optics.kits import WHOLE, WITH_CONVERTERS

LIGHT = Light(12.0, 400.0)


def mounted(lens, own, tube, behind, power, factor):
    """Focal length, ratio of lens and tube alone, and ratio with everything, by the formulas."""
    start = lens.farthest_magnification
    focal = conjugates.internal_focus_focal_length_mm(
        own - start,
        lens.focal_length_mm,
        lens.closest_focal_length_mm or lens.focal_length_mm,
        lens.closest_magnification - start,
    )
    if behind:
        # Seen from the lens: what the converter makes of the tube's gain, undone.
        whole = accessories.magnification_with_tube_behind_teleconverter(own, factor, tube, focal)
        drawn = whole / factor
    else:
        drawn = accessories.magnification_with_tube(own, tube, focal)
    gap = max(lens.principal_plane_to_rim_mm or 0.0, 0.0)
    ratio = drawn
    if power and focal * (1.0 + 1.0 / max(drawn, 1e-12)) <= gap:
        # The subject would stand inside the lens, where the formula refuses: its straight
        # continuation, so that the search for the root has two ends.
        ratio = drawn + (focal * (1.0 + drawn) - gap * drawn) * power / 1000.0
    elif power:
        ratio = accessories.magnification_with_close_up_lens(drawn, focal, power, gap)
    return focal, drawn, accessories.magnification_with_teleconverter(ratio, factor)


def by_hand(body, lens, tube, behind, power, factor, subject):
    """None where it does not reach, else focal length, ratio of the lens, free distance."""
    wanted = conjugates.magnification_from_frame_width(body.width_mm, subject.width_mm)

    def over(own):
        return mounted(lens, own, tube, behind, power, factor)[2] - wanted

    far, near = lens.farthest_magnification, lens.closest_magnification
    if over(far) > 0.0 or over(near) < 0.0:
        return None
    own = far if over(far) == 0.0 else brentq(over, far, near, xtol=1e-15, rtol=1e-14)
    focal, drawn, _ = mounted(lens, own, tube, behind, power, factor)
    rim = lens.principal_plane_to_rim_mm or 0.0
    before = math.inf if drawn == 0.0 else focal * (1.0 + 1.0 / drawn)
    free = before - rim
    along = before
    if power:
        behind = before - max(rim, 0.0)
        free = 1.0 / (power / 1000.0 + 1.0 / behind) if behind > 0.0 else behind
        along = free + max(rim, 0.0)
    return wanted, focal, drawn, free, along


def numbers(found, lens, body, factor, stop, subject):
    wanted, focal, drawn, free, along = found
    marked = min(max(stop, lens.smallest_f_number), lens.largest_f_number)
    pupil = lens.pupil_magnification
    effective = aperture.effective_f_number_with_close_up_lens(marked, drawn, pupil)
    effective = aperture.effective_f_number_with_teleconverter(effective, factor)
    shift_mm = wanted**2 * subject.depth_mm / 2.0
    coc_um = 1000.0 * math.hypot(body.width_mm, body.height_mm) / 1500.0
    to_pupil = along + focal * (1.0 / pupil - 1.0)
    return {
        "magnification": wanted,
        "focal_length_mm": focal,
        "lens_magnification": drawn,
        "free_distance_mm": free,
        "f_number": marked,
        "effective_f_number": effective,
        "stops_lost": 2.0 * math.log2(effective / marked),
        "blur_um": blur.total_blur_um(blur.defocus_disc_um(shift_mm, effective), effective),
        "exposure_s": exposure.exposure_s_for_light(12.0, effective, 400.0),
        # The angle whose smear is the circle, at the reciprocal rule's 0.03 radians a second.
        "longest_by_hand_s": coc_um / (1000.0 * 0.03 * to_pupil * wanted),
    }


@pytest.mark.parametrize("width_mm", [12.0, 60.0, 400.0])
@pytest.mark.parametrize("kit", [WHOLE, WITH_CONVERTERS], ids=["whole kit", "with converters"])
def test_the_sweep_is_every_combination_on_its_own(kit, width_mm):
    subject = Subject(width_mm, 2.0)
    swept = sweep(kit, subject, LIGHT)
    tubes = [(0.0, False), *((tube, False) for tube in kit.tubes_mm)]
    tubes += [(tube, True) for tube in kit.tubes_mm] * kit.tubes_behind_converter
    compared = 0
    for place in np.ndindex(swept["in_ratio"].shape[:-1]):
        b, n, t, c, k = place
        body, lens = kit.bodies[b], kit.lenses[n]
        (tube, behind), power = tubes[t], (0.0, *kit.close_ups_dioptre)[c]
        factor = (1.0, *kit.converters)[k]
        here = {name: row[place] for name, row in swept.items()}
        found = by_hand(body, lens, tube, behind, power, factor, subject)
        if behind and factor == 1.0:
            found = None  # there is no such place
        assert here["in_ratio"][0] == (found is not None), (lens.name, tube, power, factor)
        if found is None:
            continue
        assert here["reached"][0] == (found[3] > 0.0)
        # A few stops are enough where the plain formulas are slow; all in the plain kit.
        some = range(len(STOPS)) if kit is WHOLE else (0, 6)
        for s in some:
            ours = numbers(found, lens, body, factor, STOPS[s], subject)
            for name, value in ours.items():
                assert here[name][s] == pytest.approx(value, rel=1e-9), name
                compared += 1
    assert compared > 500


def test_the_depth_at_a_stop_is_where_the_blur_reaches_the_line():
    swept = sweep(WHOLE, Subject(36.0, 1.0))
    some = swept["reached"] & (swept["depth_mm"] > 0.0)
    effective, m = swept["effective_f_number"][some], swept["magnification"][some]
    disc_um = 1000.0 * m**2 * swept["depth_mm"][some] / 2.0 / effective
    assert blur.total_blur_um(disc_um, effective) == pytest.approx(
        swept["allowed_blur_um"][some], rel=1e-9
    )
    # No stop of a lens beats the best stop there is.
    most = best_stop.largest_depth_mm(swept["allowed_blur_um"][some] / 1000.0, m)
    assert (swept["depth_mm"][some] <= most * 1.005).all()


def test_the_hand_s_limit_of_a_plain_lens_is_the_shake_formula():
    swept = sweep(WHOLE, Subject(72.0, 1.0))
    place = (0, 2, 0, 0, 0, 5)  # the old macro alone, a lens that moves as a whole
    limit = shake.longest_exposure_s(float(swept["allowed_blur_um"][place]), 55.0, 0.5, 0.95)
    assert swept["longest_by_hand_s"][place] == pytest.approx(limit, rel=1e-12)

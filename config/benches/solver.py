"""The solver's sweep over a whole kit, against plain Python loops over the same combinations.

Two loops: one calls the formulas one at a time, as anyone would without the sweep; the other has
their arithmetic written out, the fastest plain Python there is.
"""

import bisect
import math

import numpy as np

from config import measuring
from optics.aperture import effective_f_number_with_close_up_lens
from optics.blur import disc_for_blur_um, disc_table, total_blur_um
from optics.exposure import exposure_s_for_light
from optics.shake import longest_exposure_s
from optics.solve import STOPS, Body, Kit, Lens, Light, Subject, sweep
from optics.sweep import STEPS

KIT = Kit(
    (Body("full frame", 36.0, 24.0), Body("smaller", 23.5, 15.6)),
    (
        Lens("standard", 50.0, 0.15, None, 1.8, 16.0, 1.1, 25.0),
        Lens("macro", 104.0, 1.0, 75.0, 2.8, 32.0, 1.0, 60.0),
        Lens("old macro", 55.0, 0.5, None, 3.5, 32.0, 0.95),
        Lens("tele", 200.0, 0.2, 180.0, 4.0, 32.0),
        Lens("wide", 24.0, 0.2, None, 2.8, 22.0, 1.7, 40.0),
        Lens("magnifier", 65.0, 5.0, 40.0, 2.8, 16.0, 1.0, 20.0, 1.0),
    ),
    (12.0, 20.0, 32.0, 36.0, 48.0, 56.0, 68.0),
    (1.5, 2.9, 4.0, 10.0),
)
SUBJECT = Subject(40.0, 3.0)
LIGHT = Light(12.0, 400.0)
WAVES, DISCS = (part.tolist() for part in disc_table())


def between(x, xs, ys):
    """Straight lines through a table, as numpy's interp."""
    k = min(max(bisect.bisect_right(xs, x) - 1, 0), len(xs) - 2)
    if x <= xs[0]:
        return ys[0]
    if x >= xs[-1]:
        return ys[-1]
    return ys[k] + (ys[k + 1] - ys[k]) * (x - xs[k]) / (xs[k + 1] - xs[k])


def all_mounted(lens, own, tube, power):
    """As the sweep's: focal length, ratio of lens and tube, ratio in all, and how it rises."""
    far, near = lens.farthest_magnification, lens.closest_magnification
    close = lens.closest_focal_length_mm or lens.focal_length_mm
    slope = (close - lens.focal_length_mm) / (near - far)
    gap = max(lens.principal_plane_to_rim_mm or 0.0, 0.0)
    focal = lens.focal_length_mm + slope * (own - far)
    drawn = own + tube / focal
    gained = 1.0 - tube * slope / focal**2
    ratio = drawn + (focal * (1.0 + drawn) - gap * drawn) * power
    rise = gained + (slope * (1.0 + drawn) + (focal - gap) * gained) * power
    return focal, drawn, ratio, rise


def written_out(marked, drawn, pupil, at_subject, allowed_um, reach, wanted):
    """What depends on the stop, in plain arithmetic."""
    effective = marked * (1.0 + drawn / pupil)
    unit = 0.55 * effective
    defocus = at_subject * SUBJECT.depth_mm / effective / (8.0 * unit)
    beyond = max(defocus - WAVES[-1], 0.0) * 8.0
    blur = unit * (between(defocus, WAVES, DISCS) + beyond)
    allowed = allowed_um / unit
    holds = unit * (8.0 * between(allowed, DISCS, WAVES) + max(allowed - DISCS[-1], 0.0))
    by_hand = allowed_um / (30.0 * reach)
    time_s = effective**2 / (2.0**LIGHT.ev * LIGHT.iso / 100.0)
    return effective, blur, holds * effective / at_subject, by_hand, time_s


def by_formulas(marked, drawn, pupil, at_subject, allowed_um, reach, wanted):
    """The same by the formulas of `optics`, called one at a time."""
    effective = effective_f_number_with_close_up_lens(marked, drawn, pupil)
    return (
        effective,
        total_blur_um(at_subject * SUBJECT.depth_mm / effective, effective),
        disc_for_blur_um(allowed_um, effective) * effective / at_subject,
        longest_exposure_s(allowed_um, reach / (1.0 + wanted), wanted),
        exposure_s_for_light(LIGHT.ev, effective, LIGHT.iso),
    )


def plain_loop(at_a_stop=written_out):
    """Every combination at every stop, one at a time."""
    rows = []
    for body in KIT.bodies:
        wanted = body.width_mm / SUBJECT.width_mm
        allowed_um = 1000.0 * math.hypot(body.width_mm, body.height_mm) / 1500.0
        for lens in KIT.lenses:
            for tube in (0.0, *KIT.tubes_mm):
                for dioptre in (0.0, *KIT.close_ups_dioptre):
                    rows += at_every_stop(
                        wanted, allowed_um, lens, tube, dioptre / 1000.0, at_a_stop
                    )
    return rows


def at_every_stop(wanted, allowed_um, lens, tube, power, at_a_stop):
    far, near = lens.farthest_magnification, lens.closest_magnification
    least, most = all_mounted(lens, far, tube, power)[2], all_mounted(lens, near, tube, power)[2]
    own = far + (near - far) * min(max((wanted - least) / (most - least), 0.0), 1.0)
    for _ in range(STEPS if lens.closest_focal_length_mm else 1):
        _, _, ratio, rise = all_mounted(lens, own, tube, power)
        own = min(max(own + (wanted - ratio) / rise, far), near)
    focal, drawn, _, _ = all_mounted(lens, own, tube, power)
    rim, pupil = lens.principal_plane_to_rim_mm or 0.0, lens.pupil_magnification
    along = focal * (1.0 + 1.0 / max(drawn, 1e-12))
    free = along - rim
    if power:
        behind = along - max(rim, 0.0)
        free = 1.0 / (power + 1.0 / behind) if behind > 0.0 else behind
        along = free + max(rim, 0.0)
    reached = least * (1 - 1e-9) <= wanted <= most * (1 + 1e-9) and free > 0.0
    to_pupil = max(along + focal * (1.0 / pupil - 1.0), 1e-3)
    at_subject = wanted**2 * 500.0
    rows = []
    for stop in STOPS:
        marked = min(max(stop, lens.smallest_f_number), lens.largest_f_number)
        effective, *found = at_a_stop(
            marked, drawn, pupil, at_subject, allowed_um, to_pupil * wanted, wanted
        )
        lost = 2.0 * math.log2(effective / marked)
        rows.append((reached, focal, drawn, free, effective, lost, *found))
    return rows


NAMES = (
    "reached",
    "focal_length_mm",
    "lens_magnification",
    "free_distance_mm",
    "effective_f_number",
    "stops_lost",
    "blur_um",
    "depth_mm",
    "longest_by_hand_s",
    "exposure_s",
)


def apart(plain):
    """Largest relative difference between the two, over all numbers of all combinations."""
    swept = sweep(KIT, SUBJECT, LIGHT)
    swept = np.array([np.asarray(swept[name], float).ravel() for name in NAMES]).T
    plain = np.array(plain, float)
    return float((np.abs(swept - plain) / np.maximum(np.abs(plain), 1e-9)).max())


def solver_sweep():
    off = max(apart(plain_loop()), apart(plain_loop(by_formulas)))
    if off > 1e-9:
        raise ValueError(f"they differ by {off:g}")

    def swept():
        return sweep(KIT, SUBJECT, LIGHT)

    bare = measuring.paired(swept, plain_loop, n=9)
    took = measuring.paired(swept, lambda: plain_loop(by_formulas), n=9)
    return took | {
        "against": "a plain Python loop that calls the same formulas one by one; higher is faster",
        "ratio_to_arithmetic_written_out": bare["ratio"],
        "combinations": 2 * 6 * 8 * 5 * len(STOPS),
        "apart": off,
    }


BENCHES = {"solver-sweep": solver_sweep}

"""The set-up solver against the one-way formulas, and its words against the wish."""

import math

import pytest

from optics.aperture import effective_f_number
from optics.blur import total_blur_um
from optics.conjugates import magnification_with_close_up_lens, magnification_with_tube
from optics.solve import Body, Kit, Lens, Subject, solve, sweep

FULL = Body("full frame", 36.0, 24.0)
MACRO = Lens("macro", 100.0, 1.0)


def test_a_tube_brings_what_the_lens_alone_does_not():
    lens = Lens("standard", 60.0, 0.31)
    kit = Kit((FULL,), (lens,), (20.0,))
    (way,) = solve(kit, Subject(60.0, 1.0)).ways
    assert way.tube_mm == 20.0
    assert magnification_with_tube(0.31, 20.0, 60.0) == pytest.approx(0.643, abs=0.001)


def test_an_impossible_wish_is_explained_with_both_numbers():
    answer = solve(Kit((FULL,), (Lens("standard", 60.0, 0.31),)), Subject(60.0, 1.0))
    assert answer.ways == []
    assert answer.why_not == "your closest is 0.31 life-size; 60 mm needs 0.60"


def test_numbers_of_a_plain_lens_are_those_of_the_formulas():
    (way,) = solve(Kit((FULL,), (MACRO,)), Subject(72.0, 1.0)).ways
    effective = effective_f_number(way.f_number, 0.5)
    assert way.effective_f_number == pytest.approx(effective)
    assert way.free_distance_mm == pytest.approx(300.0)
    disc_um = 1000.0 * 0.25 * 0.5 / effective
    assert way.blur_um == pytest.approx(total_blur_um(disc_um, effective))


def test_a_close_up_lens_loses_no_light_and_stands_at_its_focal_length():
    tele = Lens("tele", 200.0, 0.0001)
    kit = Kit((FULL,), (tele,), (), (4.0,))
    wanted = magnification_with_close_up_lens(0.0, 200.0, 4.0)
    way = solve(kit, Subject(36.0 / wanted, 1.0)).ways[0]
    assert way.close_up_dioptre == 4.0
    assert way.stops_lost == pytest.approx(0.0, abs=1e-9)
    # Thin, d = 0: the subject at 250 mm.
    assert way.free_distance_mm == pytest.approx(250.0)


def test_a_deep_subject_is_sliced_and_a_shallow_one_is_not():
    kit = Kit((FULL,), (MACRO,))
    deep = solve(kit, Subject(36.0, 5.0)).ways[0]
    assert deep.frames > 1
    assert "slices" in deep.reason
    assert deep.depth_mm + (deep.frames - 1) * deep.step_mm >= 5.0
    assert solve(kit, Subject(36.0, 0.5)).ways[0].frames == 1


def test_one_who_may_not_come_near_is_told():
    answer = solve(Kit((FULL,), (MACRO,)), Subject(36.0, 1.0, closest_mm=500.0))
    assert answer.why_not == "what draws it stands nearer than 500 mm"


@pytest.mark.parametrize("width", [0.0, -1.0, math.nan, math.inf])
def test_nonsense_is_refused_by_name(width):
    with pytest.raises(ValueError, match="^subject_width_mm must be"):
        sweep(Kit((FULL,), (MACRO,)), Subject(width, 1.0))
    with pytest.raises(ValueError, match="^kit must hold"):
        sweep(Kit((), ()), Subject(10.0, 1.0))

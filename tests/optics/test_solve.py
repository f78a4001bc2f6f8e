"""The set-up solver against the one-way formulas, and its words against the wish."""

import math
from dataclasses import replace

import pytest

from optics.accessories import magnification_with_close_up_lens, magnification_with_tube
from optics.aperture import effective_f_number
from optics.blur import total_blur_um
from optics.solve import Body, Kit, Lens, Light, Subject, solve, sweep
from tests.optics.kits import WHOLE

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


def test_the_ring_that_would_help_is_named_owned_or_not():
    # The issue's own sentence: 0.31 life-size, 0.6 wanted, and 0.31 + 20 / 60 = 0.64.
    kit = Kit((FULL,), (Lens("standard", 60.0, 0.31),))
    answer = solve(kit, Subject(60.0, 1.0, name="this beetle"))
    assert answer.explained == (
        "your closest is 0.31 life-size; this beetle needs 0.60; the 20 mm tube brings 0.64"
    )
    # Owned, it is no longer impossible.
    assert solve(replace(kit, tubes_mm=(20.0,)), Subject(60.0, 1.0)).what_brings_it == ""


def test_where_rings_do_not_reach_other_things_are_tried():
    tele = Kit((FULL,), (Lens("tele", 400.0, 0.1),))
    # 68 mm of tube on 400 mm gives 0.27; a close-up lens of 1 dioptre 0.54.
    assert "a close-up lens of 1 dioptres brings 0.54" in solve(tele, Subject(80.0, 1.0)).explained
    owns = Kit((FULL,), (Lens("standard", 50.0, 0.1),), (36.0, 68.0))
    # 0.1 + 68 / 50 = 1.46; another 25 mm with the long one: 0.1 + 93 / 50.
    said = solve(owns, Subject(20.0, 1.0)).what_brings_it
    assert said == "the 20 mm tube with what you own brings 1.86"


def test_a_tube_that_helps_only_behind_the_converter_is_named():
    lens = Lens("macro", 100.0, 0.62)
    owns = Kit((FULL,), (lens,), (100.0,), (), (3.0,), tubes_behind_converter=True)
    # Wanted 36 / 14.9 = 2.416. Before a 3x converter 100 mm gives 3 or more; behind it a ninth
    # of its length counts: 3 * (0.62 + 100 / 900) = 2.19, with 68 mm more 3 * (0.62 + 168 / 900).
    said = solve(owns, Subject(14.9, 0.0)).what_brings_it
    assert said == "the 68 mm tube with what you own brings 2.42"


def test_the_light_gives_a_time_and_whether_a_hand_holds_it():
    kit = Kit((FULL,), (MACRO,))
    bright, dim = Light(15.0, 400.0), Light(8.0, 100.0)
    (way,) = solve(kit, Subject(72.0, 1.0), bright).ways
    # EV 15 (a sunny day, APEX): t = N^2 / 2^15 at ISO 100, a quarter of it at ISO 400.
    assert way.exposure_s == pytest.approx(way.effective_f_number**2 / 2.0**17)
    # The trade's rule with the ratio in it: 1 / 150 s at half life size, for 0.0288 mm not 0.03.
    assert way.longest_by_hand_s == pytest.approx(0.0288444 / 0.03 / 150.0, rel=1e-4)
    assert way.by_hand
    assert "a hand holds up to 1/156 s" in way.reason
    (way,) = solve(kit, Subject(72.0, 1.0), dim).ways
    assert not way.by_hand
    assert "use a support" in way.reason
    (way,) = solve(kit, Subject(72.0, 1.0)).ways
    assert way.exposure_s is None
    assert way.by_hand is None


def test_a_lens_that_tells_its_rim_gives_the_room_in_front_of_it():
    told = replace(MACRO, principal_plane_to_rim_mm=60.0)
    (way,) = solve(Kit((FULL,), (told,)), Subject(36.0, 0.5)).ways
    assert (way.free_distance_mm, way.free_from) == (140.0, "from the front rim")
    (way,) = solve(Kit((FULL,), (MACRO,)), Subject(36.0, 0.5)).ways
    assert way.free_distance_mm == 200.0
    assert way.free_from == "from the lens's front principal plane"


def test_a_pupil_is_taken_for_a_lens_that_moves_as_a_whole_and_refused_otherwise():
    wide = replace(MACRO, pupil_magnification=2.0)
    (way,) = solve(Kit((FULL,), (wide,)), Subject(36.0, 0.5)).ways
    assert way.effective_f_number == pytest.approx(way.f_number * 1.5)
    shrinks = replace(wide, closest_focal_length_mm=75.0)
    with pytest.raises(ValueError, match="^pupil_magnification must be 1 for a lens whose focal"):
        solve(Kit((FULL,), (shrinks,)), Subject(36.0, 0.5))


def test_a_tube_is_tried_on_both_sides_of_a_converter():
    lens = Lens("standard", 50.0, 0.5)
    kit = Kit((FULL,), (lens,), (25.0,), (), (2.0,), tubes_behind_converter=True)
    ways = solve(kit, Subject(24.0, 0.5)).ways
    # With the lens at its closest: 2 (0.5 + 25 / 50) = 2 in front, 2 x 0.5 + 25 / 100 behind.
    assert {(way.tube_mm, way.converter, way.tube_place) for way in ways} == {
        (25.0, 2.0, "between converter and lens"),
    }
    ways = solve(kit, Subject(30.0, 0.5)).ways
    assert {way.tube_place for way in ways if way.tube_mm and way.converter > 1} == {
        "between converter and lens",
        "between body and converter",
    }


def test_ways_stand_in_order_and_say_why():
    ways = solve(WHOLE, Subject(40.0, 3.0), Light(9.0, 200.0)).ways
    assert len(ways) > 50
    keys = [(way.frames, way.by_hand is False, -way.free_distance_mm) for way in ways]
    assert [key[:2] for key in keys] == sorted(key[:2] for key in keys)
    assert ways[0].ranked.startswith("first: ")
    assert {way.ranked.split(":")[0] for way in ways[1:]} <= {
        "after it",
        "level with the one before it",
    }


def test_beyond_what_diffraction_lets_through_slices_are_not_promised():
    kit = Kit((FULL,), (Lens("slow", 20.0, 8.0, None, 8.0, 8.0, 1.0, None, 4.0),))
    (way,) = solve(kit, Subject(4.5, 1.0)).ways
    assert way.f_number == 8.0
    assert way.blur_um > way.allowed_blur_um
    assert "slices cannot mend that" in way.reason


@pytest.mark.parametrize("width", [0.0, -1.0, math.nan, math.inf])
def test_nonsense_is_refused_by_name(width):
    with pytest.raises(ValueError, match="^subject_width_mm must be"):
        sweep(Kit((FULL,), (MACRO,)), Subject(width, 1.0))
    with pytest.raises(ValueError, match="^kit must hold"):
        sweep(Kit((), ()), Subject(10.0, 1.0))

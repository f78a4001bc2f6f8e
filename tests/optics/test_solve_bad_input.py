"""The solver given nonsense: a word naming the value, or sound numbers; never a warning or NaN."""

import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optics.kit import Body, Kit, Lens, Light, Subject
from optics.solve import solve, sweep

FULL = Body("full frame", 36.0, 24.0)
MACRO = Lens("macro", 100.0, 1.0, 80.0, principal_plane_to_rim_mm=40.0)
GOOD = Kit((FULL,), (MACRO,), (20.0,), (4.0,), (2.0,), tubes_behind_converter=True)
NONSENSE = [math.nan, math.inf, -math.inf, -1.0, 1e300, "wide open", None, True]


def kit_with(**changes):
    lens = dict(vars(MACRO)) | {k: v for k, v in changes.items() if k in vars(MACRO)}
    body = dict(vars(FULL)) | {k: v for k, v in changes.items() if k in vars(FULL)}
    rest = {k: v for k, v in changes.items() if k not in lens and k not in body}
    return Kit(**(dict(vars(GOOD)) | {"bodies": (Body(**body),), "lenses": (Lens(**lens),)} | rest))


@pytest.mark.parametrize("value", NONSENSE, ids=str)
@pytest.mark.parametrize(
    ("place", "word"),
    [
        ("width_mm", "sensor_width_mm"),
        ("height_mm", "sensor_width_mm"),
        ("focal_length_mm", "focal_length_mm"),
        ("closest_focal_length_mm", "closest_focal_length_mm"),
        ("closest_magnification", "closest_magnification"),
        ("farthest_magnification", "magnification_without"),
        ("smallest_f_number", "f_number"),
        ("largest_f_number", "f_number"),
        ("pupil_magnification", "pupil_magnification"),
        ("principal_plane_to_rim_mm", "principal_plane_to_rim_mm"),
    ],
)
def test_a_nonsense_kit_is_refused_by_name(place, word, value):
    may_be_none = ("closest_focal_length_mm", "principal_plane_to_rim_mm")
    if value is None and place in may_be_none:
        assert solve(kit_with(**{place: None}), Subject(40.0, 1.0)).ways
        return
    if value == -1.0 and value is not True and place == "principal_plane_to_rim_mm":
        return  # a principal plane may lie in front of the rim
    with pytest.raises(ValueError, match=f"^{word} must be from .* to .*, got"):
        solve(kit_with(**{place: value}), Subject(40.0, 1.0))


@pytest.mark.parametrize("value", NONSENSE, ids=str)
@pytest.mark.parametrize(
    ("place", "word"),
    [
        ("tubes_mm", "tube_mm"),
        ("close_ups_dioptre", "power_dioptre"),
        ("converters", "factor"),
    ],
)
def test_a_nonsense_attachment_is_refused_by_name(place, word, value):
    with pytest.raises(ValueError, match=f"^{word} must be from .* to .*, got"):
        solve(kit_with(**{place: (value,)}), Subject(40.0, 1.0))


@pytest.mark.parametrize("value", NONSENSE, ids=str)
def test_a_nonsense_wish_or_light_is_refused_by_name(value):
    with pytest.raises(ValueError, match="^subject_width_mm must be"):
        solve(GOOD, Subject(value, 1.0))
    with pytest.raises(ValueError, match="^subject_depth_mm must be"):
        solve(GOOD, Subject(40.0, value))
    with pytest.raises(ValueError, match="^closest_mm must be"):
        solve(GOOD, Subject(40.0, 1.0, value))
    with pytest.raises(ValueError, match="^iso must be"):
        solve(GOOD, Subject(40.0, 1.0), Light(12.0, value))
    if value != -1.0:
        with pytest.raises(ValueError, match="^exposure_value must be"):
            solve(GOOD, Subject(40.0, 1.0), Light(value))


def test_what_contradicts_itself_is_refused():
    with pytest.raises(ValueError, match="^smallest_f_number must not be more than largest"):
        solve(kit_with(smallest_f_number=22.0, largest_f_number=4.0), Subject(40.0, 1.0))
    with pytest.raises(ValueError, match="^farthest_magnification must not be more than closest"):
        solve(kit_with(farthest_magnification=2.0), Subject(40.0, 1.0))
    with pytest.raises(ValueError, match="^kit must hold at least one body"):
        solve(Kit((), (MACRO,)), Subject(40.0, 1.0))


def across(low, high):
    """Evenly over the powers of ten."""
    return st.floats(math.log10(low), math.log10(high)).map(lambda x: 10.0**x)


@st.composite
def kits(draw):
    focal = draw(across(0.01, 1e6))
    closest = draw(across(1e-6, 1e3))
    wide = draw(across(0.5, 100.0))
    lens = Lens(
        "any",
        focal,
        closest,
        draw(st.none() | across(focal * 0.5, focal).map(lambda f: min(max(f, 0.01), 1e6))),
        wide,
        wide * draw(st.floats(1.0, 20.0)),
        1.0,
        draw(st.none() | st.floats(-100.0, 1000.0)),
        closest * draw(st.floats(0.0, 1.0)),
    )
    sides = draw(st.tuples(across(0.1, 1e3), across(0.1, 1e3)))
    few = {"max_size": 2}
    return Kit(
        (Body("any", *sides),),
        (lens,),
        tuple(draw(st.lists(st.floats(0.0, 1e4), **few))),
        tuple(draw(st.lists(across(0.01, 1e3), **few))),
        tuple(draw(st.lists(st.floats(0.5, 10.0), **few))),
        draw(st.booleans()),
    )


@settings(max_examples=60, deadline=None)
@given(
    kits(),
    across(1e-3, 1e6),
    st.floats(0.0, 1e6),
    st.floats(0.0, 1e6),
    st.none() | st.floats(-20.0, 40.0).map(Light),
)
def test_any_kit_gives_sound_numbers_or_a_named_refusal(kit, width, depth, closest, light):
    subject = Subject(width, depth, closest)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        refused, swept, answer = "", {}, None
        try:
            swept, answer = sweep(kit, subject, light), solve(kit, subject, light)
        except ValueError as refusal:
            refused = str(refusal)
    if refused:
        assert " must " in refused
        return
    there = swept["reached"]
    assert not any(np.isnan(row[there]).any() for row in swept.values())
    assert bool(answer.ways) == bool(there.any())
    assert all(way.reason and way.frames >= 1 for way in answer.ways)
    assert answer.ways or answer.why_not

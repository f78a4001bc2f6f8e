"""Nonsense is refused by name; everything else comes out as plain, sound numbers."""

import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optics.sampling import pixel_pitch_um
from optics.stack import landscape_focus_distances_m
from tests.optics.everything import formulas, limits_of, parameters

ALL = formulas()
NONSENSE = [math.nan, -math.inf, -1e300, 1e300, "wide open", None, True, 1j]


def named(function):
    return f"{function.__module__}.{function.__name__}"


def sample(function):
    """Ordinary values for every parameter, inside all ranges and domains."""
    ordinary = {
        "sensor_to_subject_mm": 500.0,
        "magnification_with": 2.0,
        "far_m": 1e4,
        "waves": 0.5,
        "focus_mm": 1000.0,
        "overlap": 0.25,
        "numerical_aperture": 0.2,
        "cycles_per_pixel": 0.25,
        "hit_share": 0.3,
        "wanted_share": 0.9,
        "near_m": 1.0,
        "coc_mm": 0.03,
        "image_shift_mm": 0.1,
        "magnification": 0.5,
        "focal_length_mm": 50.0,
        "width_px": 6000.0,
        "iso": 100.0,
    }
    return [ordinary.get(name, 1.0) for name in parameters(function)]


@pytest.mark.parametrize("function", ALL, ids=named)
def test_nonsense_is_refused_by_name(function):
    names, ordinary, limits = parameters(function), sample(function), limits_of(function)
    for k, name in enumerate(names):
        for value in NONSENSE:
            if value == 1e300 and math.isinf(limits[name].high):
                continue
            broken = [*ordinary[:k], value, *ordinary[k + 1 :]]
            with pytest.raises(ValueError, match=rf"^{name} must be from .* to .*, got"):
                function(*broken)
            with pytest.raises(ValueError, match=rf"^{name} must be from"):
                function(**dict(zip(names, broken, strict=True)))


@pytest.mark.parametrize("function", ALL, ids=named)
def test_one_bad_value_in_an_array_is_named(function):
    ordinary = sample(function)
    with pytest.raises(ValueError, match="got nan"):
        function(np.array([ordinary[0], math.nan, ordinary[0]]), *ordinary[1:])


@pytest.mark.parametrize("function", [f for f in ALL if len(parameters(f)) > 1], ids=named)
def test_shapes_that_do_not_go_together_are_named(function):
    one, two, *rest = sample(function)
    with pytest.raises(ValueError, match="these shapes do not go together: "):
        function(np.full(2, one), np.full(3, two), *rest)


@pytest.mark.parametrize("function", ALL, ids=named)
def test_floats_give_plain_numbers_and_arrays_the_same_numbers(function):
    ordinary = sample(function)
    single = function(*ordinary)
    parts = single if isinstance(single, tuple) else (single,)
    assert all(type(part) in (float, int) for part in parts)
    tall = np.full((3, 1), ordinary[0])
    wide = [np.full((1, 4), value) for value in ordinary[1:]]
    many = function(tall, *wide)
    for part, array in zip(parts, many if isinstance(many, tuple) else (many,), strict=True):
        assert array.shape == ((3, 4) if wide else (3, 1))
        assert array == pytest.approx(np.full(array.shape, part), rel=1e-13)


@pytest.mark.parametrize("function", ALL, ids=named)
def test_lists_whole_numbers_and_numpy_scalars_are_taken(function):
    ordinary = sample(function)
    as_list = function([ordinary[0]] * 2, *ordinary[1:])
    as_scalar = function(np.float64(ordinary[0]), *ordinary[1:])
    first = as_list[0][0] if isinstance(as_list, tuple) else as_list[0]
    alone = as_scalar[0] if isinstance(as_scalar, tuple) else as_scalar
    assert first == pytest.approx(alone, rel=1e-12)


@pytest.mark.parametrize("function", ALL, ids=named)
def test_an_empty_array_gives_an_empty_array(function):
    got = function(np.empty(0), *sample(function)[1:])
    assert all(len(part) == 0 for part in (got if isinstance(got, tuple) else [got]))


def sound_or_refused(function, values):
    """Numbers that are numbers, or a ValueError that names one of the parameters."""
    got, words = None, ""
    try:
        got = function(*values)
    except ValueError as refusal:
        words = str(refusal)
    if words:
        assert any(name in words for name in parameters(function))
    else:
        assert not any(math.isnan(part) for part in (got if isinstance(got, tuple) else (got,)))


def values_for(limit):
    """Anywhere in the range, its ends and a hair inside them."""
    high = min(limit.high, 1e308)
    inside = st.floats(limit.low, high, allow_nan=False, allow_infinity=False)
    if limit.low > 0:
        spread = st.floats(math.log10(limit.low), math.log10(high)).map(
            lambda x: min(max(10.0**x, limit.low), high)
        )
        inside = inside | spread
    return inside | st.sampled_from([limit.low, limit.high])


@pytest.mark.parametrize("function", ALL, ids=named)
def test_anything_in_range_gives_a_number_or_a_named_refusal(function):
    limits = limits_of(function)
    # A thousand waves of defocus cost real time; the exact integral has its own tests there.
    tries = 15 if "waves" in limits else 60

    @settings(max_examples=tries, deadline=None)
    @given(st.tuples(*(values_for(limits[name]) for name in parameters(function))))
    def holds(values):
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            sound_or_refused(function, values)

    holds()


anything = st.floats() | st.floats(allow_nan=False).map(abs) | st.integers(-(10**400), 10**400)


@pytest.mark.parametrize("function", ALL, ids=named)
def test_any_float_at_all_gives_a_number_or_a_named_refusal(function):
    @settings(max_examples=25, deadline=None)
    @given(st.tuples(*(anything for _ in parameters(function))))
    def holds(values):
        sound_or_refused(function, values)

    holds()


@given(st.lists(st.floats(), min_size=6, max_size=6))
def test_landscape_distances_are_sound_or_refused(values):
    try:
        distances = landscape_focus_distances_m(*values)
    except ValueError:
        return
    assert distances == sorted(distances, reverse=True)
    assert all(math.isfinite(s) and s > 0 for s in distances)


@pytest.mark.parametrize("unit", [0, 1, 6, "inch", None, True, math.nan, [2]])
def test_an_unknown_unit_is_refused(unit):
    with pytest.raises(ValueError, match="^unit must be 2"):
        pixel_pitch_um(5000.0, unit)


@given(st.floats(), st.integers())
def test_a_pitch_is_sound_or_refused(resolution, unit):
    try:
        pitch = pixel_pitch_um(resolution, unit)
    except ValueError:
        return
    assert 0 < pitch < math.inf

"""What a formula may be given: one table of ranges, one check for all.

A parameter's name says its unit, so the same name has the same range
everywhere. Outside it a formula refuses with a ValueError that names the
value and the range; inside it no result overflows or is not a number.
"""

import functools
import inspect
import math
from collections.abc import Callable
from typing import Any, NamedTuple, Protocol, overload

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Values = float | Floats


class Limit(NamedTuple):
    """The smallest and the largest value taken, both included."""

    low: float
    high: float


# The widest ranges that mean anything with a camera or a microscope; wide on
# purpose, for their task is to stop nonsense, not to judge a picture.
F_NUMBER = Limit(0.1, 1e5)
FOCAL_LENGTH = Limit(0.01, 1e6)
DISTANCE = Limit(1e-6, 1e12)
MAGNIFICATION = Limit(1e-12, 1e4)
FROM_INFINITY = Limit(0.0, 1e4)  # a magnification that may be 0: lens at infinity
OR_INFINITE = Limit(1e-6, math.inf)  # a distance that may be infinite

LIMITS = {
    "f_number": F_NUMBER,
    "effective_f_number": F_NUMBER,
    "rear_f_number": F_NUMBER,
    "front_f_number": F_NUMBER,
    "apex": Limit(-20.0, 40.0),
    "magnification": MAGNIFICATION,
    "magnification_without": FROM_INFINITY,
    "magnification_with": MAGNIFICATION,
    "closest_magnification": MAGNIFICATION,
    "pupil_magnification": Limit(0.01, 100.0),
    "focal_length_mm": FOCAL_LENGTH,
    "close_up_focal_length_mm": FOCAL_LENGTH,
    "rear_focal_length_mm": FOCAL_LENGTH,
    "front_focal_length_mm": FOCAL_LENGTH,
    "closest_focal_length_mm": FOCAL_LENGTH,
    "hiatus_mm": Limit(-1e5, 1e5),
    "separation_mm": Limit(0.0, 1e5),
    "tube_mm": Limit(0.0, 1e5),
    "power_dioptre": Limit(0.01, 1000.0),
    "factor": Limit(0.1, 100.0),
    "sensor_to_subject_mm": DISTANCE,
    "distance_uncertainty_mm": Limit(0.0, 1e9),
    "focus_mm": OR_INFINITE,
    "sensor_width_mm": Limit(0.01, 1e4),
    "subject_width_mm": DISTANCE,
    "subject_depth_mm": Limit(0.0, 1e9),
    "diagonal_mm": Limit(0.01, 1e4),
    "divisor": Limit(1.0, 1e6),
    "coc_mm": Limit(1e-6, 1e3),
    "print_coc_mm": Limit(1e-6, 1e3),
    "enlargement": Limit(1e-3, 1e6),
    "viewing_distance_mm": Limit(1.0, 1e6),
    "acuity_arcmin": Limit(0.01, 1e3),
    "pixel_pitch_um": Limit(0.01, 1e4),
    "pixels": Limit(0.01, 1e4),
    "total_blur_mm": Limit(1e-6, 1e3),
    "defocus_disc_um": Limit(0.0, 1e9),
    "wavelength_um": Limit(0.1, 100.0),
    "cycles_per_mm": Limit(0.0, 1e9),
    "cycles_per_pixel": Limit(0.0, 0.5),
    "oversampling": Limit(1.0, 64.0),
    "numerical_aperture": Limit(1e-6, 10.0),
    "refractive_index": Limit(1.0, 5.0),
    "image_shift_mm": Limit(-1e4, 1e4),
    "waves": Limit(-1000.0, 1000.0),
    "depth_of_field_mm": Limit(1e-9, 1e12),
    "overlap": Limit(0.0, 0.95),
    "near_m": Limit(1e-3, 1e9),
    "far_m": Limit(1e-3, math.inf),
    "step_mm": Limit(0.0, 1e6),
    "slope_deg": Limit(0.0, 89.0),
    "rotation_deg": Limit(0.0, 360.0),
    "rotation_deg_per_s": Limit(0.0, 1e6),
    "translation_um": Limit(0.0, 1e9),
    "translation_um_per_s": Limit(0.0, 1e9),
    "blur_um": Limit(1e-3, 1e6),
    "focal_plane_resolution": Limit(1e-3, 1e9),
    "width_px": Limit(1.0, 1e7),
    "exposure_s": Limit(1e-9, 1e7),
    "exposure_value": Limit(-20.0, 40.0),
    "iso": Limit(1e-2, 1e9),
    "half_power_s": Limit(1e-9, 1e3),
    "ambient_stops_below": Limit(0.0, 30.0),
    "hit_share": Limit(1e-6, 1.0),
    "wanted_share": Limit(0.0, 0.999999),
    "frames": Limit(1.0, 1e9),
}


class Formula(Protocol):
    """Floats in, a float out; an array among them, an array out."""

    __name__: str

    @overload
    def __call__(self, *args: float, **named: float) -> float: ...  # type: ignore[overload-overlap]
    @overload
    def __call__(self, *args: Values, **named: Values) -> Floats: ...


class PairFormula(Protocol):
    """A formula with two results."""

    __name__: str

    @overload
    def __call__(self, *args: float, **named: float) -> tuple[float, float]: ...  # type: ignore[overload-overlap]
    @overload
    def __call__(self, *args: Values, **named: Values) -> tuple[Floats, Floats]: ...


class CountFormula(Protocol):
    """A formula whose result is a whole number."""

    __name__: str

    @overload
    def __call__(self, *args: float, **named: float) -> int: ...  # type: ignore[overload-overlap]
    @overload
    def __call__(self, *args: Values, **named: Values) -> NDArray[np.int64]: ...


def formula(**other_limits: Limit) -> Callable[[Callable[..., Values]], Formula]:
    """Check every argument by its name; give plain floats back for floats."""

    def decorate(function: Callable[..., Values]) -> Formula:
        return checked(function, other_limits)  # type: ignore[no-any-return]

    return decorate


def pair_formula(
    **other_limits: Limit,
) -> Callable[[Callable[..., tuple[Values, Values]]], PairFormula]:
    """As `formula`, for a function with two results."""

    def decorate(function: Callable[..., tuple[Values, Values]]) -> PairFormula:
        return checked(function, other_limits)  # type: ignore[no-any-return]

    return decorate


def count_formula(**other_limits: Limit) -> Callable[[Callable[..., Values]], CountFormula]:
    """As `formula`, for a function that counts: a plain int, or whole numbers."""

    def decorate(function: Callable[..., Values]) -> CountFormula:
        @functools.wraps(function)
        def counted(*args: Any, **named: Any) -> Any:
            result = function(*args, **named)
            return result.astype(np.int64) if isinstance(result, np.ndarray) else int(result)

        return checked(counted, other_limits)  # type: ignore[no-any-return]

    return decorate


def checked(function: Callable[..., Any], other_limits: dict[str, Limit]) -> Any:
    """Return the function with its arguments checked and its results plain."""
    names = tuple(inspect.signature(function).parameters)
    limits = {name: other_limits[name] if name in other_limits else LIMITS[name] for name in names}

    @functools.wraps(function)
    def with_checks(*args: Any, **named: Any) -> Any:
        by_place = [
            take(name, value, limits[name]) for name, value in zip(names, args, strict=False)
        ]
        by_name = {
            name: take(name, value, limits[name]) if name in limits else value
            for name, value in named.items()
        }
        refuse_mixed_shapes({**dict(zip(names, by_place, strict=False)), **by_name})
        return plain(function(*by_place, *args[len(names) :], **by_name))

    with_checks.limits = limits  # type: ignore[attr-defined]
    return with_checks


def limits_of(function: Callable[..., Any]) -> dict[str, Limit]:
    """Return the ranges a formula checks, by parameter; none for what is no formula."""
    limits: dict[str, Limit] = getattr(function, "limits", {})
    return limits


def take(name: str, value: object, limit: Limit) -> Values:
    """Return the value as a float or a float array, or refuse it by name."""
    if type(value) is float:
        if limit.low <= value <= limit.high:
            return value
        refuse(name, value, limit)
    array = np.asarray(value)
    if array.dtype.kind not in "iuf":
        refuse(name, value, limit)
    array = array.astype(np.float64)
    outside = ~((array >= limit.low) & (array <= limit.high))
    if outside.any():
        refuse(name, array[outside].flat[0], limit)
    return float(array) if array.ndim == 0 else array


def refuse(name: str, value: object, limit: Limit) -> None:
    """Say which value it was and what would have been taken."""
    raise ValueError(f"{name} must be from {limit.low:g} to {limit.high:g}, got {value!s:.60}")


def refuse_mixed_shapes(given: dict[str, Values]) -> None:
    """Refuse arrays that do not broadcast, and name them."""
    shapes = {name: v.shape for name, v in given.items() if isinstance(v, np.ndarray)}
    if len(set(shapes.values())) < 2:
        return
    try:
        np.broadcast_shapes(*shapes.values())
    except ValueError:
        listed = ", ".join(f"{name} {shape}" for name, shape in shapes.items())
        raise ValueError(f"these shapes do not go together: {listed}") from None


def plain(result: Any) -> Any:
    """Turn numpy scalars into plain numbers; leave arrays as they are."""
    if isinstance(result, tuple):
        return tuple(plain(part) for part in result)
    if isinstance(result, np.generic) or (isinstance(result, np.ndarray) and result.ndim == 0):
        return result.item()
    return result

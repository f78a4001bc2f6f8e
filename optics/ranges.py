"""A number that is known only from low to high, carried through a formula.

No unit objects, no statistics: three plain numbers. What comes out of
`through` is true where the formula rises or falls steadily in each of its
arguments between low and high, for then its extremes lie at the corners.
Where a formula turns round inside the range, as the exact transfer function
does, `through` does not hold and must not be used.
"""

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

MOST_RANGES = 12  # 4096 corners; more is a sign of a mistake


@dataclass(frozen=True)
class Range:
    """A value with the lowest and the highest it may be, in one unit.

    Parameters
    ----------
    low, value, high : float
        In this order; high may be infinite, none of them NaN.

    Examples
    --------
    >>> Range(0.9, 1.0, 1.2).is_exact
    False
    """

    low: float
    value: float
    high: float

    def __post_init__(self) -> None:
        """Refuse what is out of order."""
        if not self.low <= self.value <= self.high:
            raise ValueError(
                f"a range must run low, value, high, got {self.low}, {self.value}, {self.high}"
            )

    @property
    def is_exact(self) -> bool:
        """Whether low and high are the same number."""
        return self.low == self.high


def exactly(value: float) -> Range:
    """Return a range of no width.

    Parameters
    ----------
    value : float
        Any number but NaN, in any unit.

    Returns
    -------
    Range
        Low, value and high the same, in the unit of the value.

    References
    ----------
    Plain arithmetic.

    Examples
    --------
    >>> exactly(2.0)
    Range(low=2.0, value=2.0, high=2.0)
    """
    return Range(value, value, value)


def within(value: float, share: float) -> Range:
    """Return a range of so large a share either way.

    Parameters
    ----------
    value : float
        The middle, finite, in any unit.
    share : float
        Relative uncertainty, 0 up to below 1; 0.25 is 25 %.

    Returns
    -------
    Range
        From value (1 - share) to value (1 + share).

    References
    ----------
    Plain arithmetic.

    Examples
    --------
    >>> within(100.0, 0.25)
    Range(low=75.0, value=100.0, high=125.0)
    """
    if not 0.0 <= share < 1.0:
        raise ValueError(f"share must be from 0 up to below 1, got {share}")
    if not math.isfinite(value):
        raise ValueError(f"value must be a finite number, got {value}")
    ends = value * (1.0 - share), value * (1.0 + share)
    return Range(min(ends), value, max(ends))


def within_stops(value: float, stops: float) -> Range:
    """Return the range of an f-number uncertain by so many stops.

    Parameters
    ----------
    value : float
        f-number, more than 0.
    stops : float
        Uncertainty either way in stops, 0 to 20.

    Returns
    -------
    Range
        f-numbers; one stop is a factor of the square root of two.

    References
    ----------
    ISO 517:2008, apertures of photographic lenses (from memory).

    Examples
    --------
    >>> within_stops(8.0, 2.0)
    Range(low=4.0, value=8.0, high=16.0)
    """
    if not 0.0 < value < math.inf:
        raise ValueError(f"value must be a finite f-number more than 0, got {value}")
    if not 0.0 <= stops <= 20.0:
        raise ValueError(f"stops must be from 0 to 20, got {stops}")
    factor = 2.0 ** (stops / 2.0)
    return Range(value / factor, value, value * factor)


def through(function: Callable[..., float], *given: Range | float) -> Range:
    """Return what a formula makes of ranges: its value and its extremes.

    Parameters
    ----------
    function : callable
        Takes as many numbers as are given, returns a number; rises or falls
        steadily in each of them over its range.
    *given : Range or float
        One for each argument of the function, in its units; at most 12
        that have a width.

    Returns
    -------
    Range
        In the function's unit: the value at the values, low and high over
        all corners.

    Notes
    -----
    A corner outside the function's domain raises the function's own
    ValueError: the range given was wider than the formula holds.

    References
    ----------
    R. E. Moore, Interval Analysis (1966), monotonic functions (from memory).

    Examples
    --------
    >>> through(lambda width_mm, m: width_mm / m, 36.0, Range(0.5, 0.8, 1.0))
    Range(low=36.0, value=45.0, high=72.0)
    """
    ranges = [item if isinstance(item, Range) else exactly(float(item)) for item in given]
    if sum(not item.is_exact for item in ranges) > MOST_RANGES:
        raise ValueError(f"given must hold at most {MOST_RANGES} ranges, got {len(ranges)}")
    ends = [(item.low,) if item.is_exact else (item.low, item.high) for item in ranges]
    value = function(*(item.value for item in ranges))
    corners = [function(*corner) for corner in itertools.product(*ends)]
    return Range(min(value, *corners), value, max(value, *corners))

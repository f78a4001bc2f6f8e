"""How numbers and sentences are put before people. Pure: no Django, no files.

Sentences live in the finding that says them; here are the one way of writing a number and
the words never used about a picture.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

#: Words never used about a picture or a person (teaching rules R4 and R13).
NEVER = (
    "error",
    "fail",
    "failed",
    "failure",
    "wrong",
    "bad",
    "violation",
    "poor",
    "penalty",
    "overdue",
    "late",
    "behind schedule",
    "grade",
    "score",
    "assignment",
    "submission",
    "cohort",
    "module",
    "quiz",
    "badge",
    "streak",
    "mistake",
    "fault",
    "AI",
)

#: Why a finding is not so, for one tap; kept in these words with the flag's numbers.
NOT_SO_BECAUSE = ("It was meant so", "The picture shows otherwise", "What was told of it is off")


def say(text: str) -> str:
    """Mark a sentence for translation; it is translated where it is shown."""
    return text


def unwanted_words(text: str) -> list[str]:
    """Return the words of `NEVER` that a text uses."""
    found = []
    for word in NEVER:
        flags = 0 if word.isupper() else re.IGNORECASE
        if re.search(rf"\b{word}\b", text, flags):
            found.append(word)
    return found


def figures(value: float, digits: int = 2) -> str:
    """Write a number with so many figures that count, and no exponent."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, places):.{max(places, 0)}f}"


#: The exposure times that dials show, as denominators.
DIAL = (
    *(4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500),
    *(640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000),
)
DIAL_TOLERANCE = 0.07  # a shutter's 1/64 s is written 1/60 s on the dial


def seconds(value: float) -> str:
    """Write an exposure time as photographers do: 1/60 s, 0.5 s, 2 s."""
    if value <= 0:
        return "0 s"
    if value >= 0.3:
        return f"{value:.2g} s" if value < 10 else f"{value:.0f} s"
    nearest = min(DIAL, key=lambda shown: abs(shown * value - 1))
    close = abs(nearest * value - 1) <= DIAL_TOLERANCE
    return f"1/{nearest if close else figures(1 / value)} s"


def f_number(value: float) -> str:
    """Write an opening: f/5.6, f/11, f/32."""
    return f"f/{value:.1f}".removesuffix(".0") if value < 10 else f"f/{value:.0f}"


def ratio(magnification: float) -> str:
    """Write a magnification as a reproduction ratio: 1:2, 1:1, 2.5:1."""
    if magnification >= 1:
        return f"{_short(magnification)}:1"
    return f"1:{_short(1 / magnification)}"


def share(value: float) -> str:
    """Write a share of the frame in per cent."""
    per_cent = 100 * value
    if 0 < per_cent < 0.1:
        return "under 0.1 %"
    return f"{per_cent:.1f} %" if per_cent < 10 else f"{per_cent:.0f} %"


def pixels(value: float) -> str:
    """Write a blur: no picture tells a smaller one than half a pixel from none."""
    return "less than half a pixel" if value < 0.5 else f"{value:.1f} pixels"


def _short(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0") if value < 10 else f"{value:.0f}"


class Spread(tuple[float, ...]):
    """A number known as a range; it formats as "3" or as "3 to 4"."""

    def __format__(self, spec: str) -> str:
        low, high = written(min(self), spec), written(max(self), spec)
        return low if low == high else f"{low} to {high}"


_STYLES: dict[str, Callable[[float], str]] = {
    "seconds": seconds,
    "f": f_number,
    "ratio": ratio,
    "share": share,
    "pixels": pixels,
    "two": lambda value: figures(value, 2),
    "three": lambda value: figures(value, 3),
}


def written(value: float, spec: str) -> str:
    """Write a number in a named style, or by an ordinary format."""
    style = _STYLES.get(spec)
    return style(value) if style else format(value, spec)

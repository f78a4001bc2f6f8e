"""Where a picture should be sharp, as its maker says it: a tap, or a part in words. Pure.

An area is `[left, top, width, height]` in fractions of the upright frame, 0 to 1.
"""

from __future__ import annotations

from shootlog.seen_in_words import CORNERS, place_in_words

TAP_SHARE = 0.08  # of either side: what a fingertip points at on a small picture
TAP_LONG_SIDE_PX = 256  # of the picture to tap, whatever the screen: so a tap needs no script
#: a part's name -> how many thirds of the frame lie left of it and above it
PARTS = {words: thirds for thirds, words in CORNERS.items()}


def around(x: float, y: float) -> list[float]:
    """Return the small area round a tapped point; a point beyond the frame counts as its rim.

    >>> around(0.5, 1.2)
    [0.46, 0.92, 0.08, 0.08]
    """
    left, top = (round(min(max(at - TAP_SHARE / 2.0, 0.0), 1.0 - TAP_SHARE), 4) for at in (x, y))
    return [left, top, TAP_SHARE, TAP_SHARE]


def part(words: str) -> list[float]:
    """Return a ninth of the frame by its name in `PARTS`; KeyError for any other.

    >>> part("at the top right")
    [0.6667, 0.0, 0.3333, 0.3333]
    """
    left, top = PARTS[words]
    return [round(left / 3.0, 4), round(top / 3.0, 4), 0.3333, 0.3333]


def tap_size_px(width_px: int, height_px: int) -> tuple[int, int]:
    """Return the size at which the picture is shown to be tapped.

    >>> tap_size_px(6000, 4000)
    (256, 171)
    """
    scale = TAP_LONG_SIDE_PX / max(width_px, height_px)
    return max(round(width_px * scale), 1), max(round(height_px * scale), 1)


def in_percent(area: list[float]) -> list[str]:
    """Return an area as a drawing over the picture wants it.

    >>> in_percent([0.46, 0.1, 0.08, 0.08])
    ['46.0%', '10.0%', '8.0%', '8.0%']
    """
    return [f"{100.0 * share:.1f}%" for share in area]


def in_words(area: list[float]) -> str:
    """Return where the middle of an area lies.

    >>> in_words([0.06, 0.46, 0.08, 0.08])
    'left of the middle'
    """
    left, top, width, height = area
    return place_in_words(left + width / 2.0, top + height / 2.0)

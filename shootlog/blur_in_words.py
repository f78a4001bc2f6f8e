"""Measured blur beside the blur that the lens must leave, in one unit and in words. Pure.

Pixels of this file on both sides; micrometres on the sensor behind, as `optics` counts them.
"""

from __future__ import annotations

from shootlog.findings.missed_focus import LIMIT_WANTED
from shootlog.reading import Quantity, Reading
from shootlog.wording import Spread, figures, pixels

LEAST_TOLD_PX = 0.5  # no picture tells a smaller blur from none
NO_BLUR = "Where you wanted it sharp no blur shows that can be measured."
SOFT_UNTOLD = "How many pixels the blur is where you wanted it sharp can't be told."


def blur_words(reading: Reading) -> list[str]:
    """Return what was measured and what is expected, a sentence each; nothing where not known."""
    measured = _measured(reading)
    if not measured:
        return []
    expected = [
        f"{both} {why}"
        for name, why in (
            ("diffraction_blur_um", "from the opening alone, in the best focus"),
            ("blur_at_depth_limits_um", "at either end of the sharp depth"),
        )
        if (both := _both(reading, name))
    ]
    if expected:
        measured.append(f"Blur to expect: {'; '.join(expected)}.")
    return measured


def _measured(reading: Reading) -> list[str]:
    place, sharpest = reading["wanted_blur_px"], reading["blur_px"]
    said = []
    if place is not None:
        said.append(f"Blur measured where you wanted it sharp: {_told(reading, place)}.")
    elif share := reading["wanted_sharp_share"]:
        said.append(SOFT_UNTOLD if share.middle < LIMIT_WANTED else NO_BLUR)
    if sharpest is not None:
        said.append(f"Blur measured where the picture is sharpest: {_told(reading, sharpest)}.")
    return said


def _told(reading: Reading, blur: Quantity) -> str:
    if blur.high < LEAST_TOLD_PX:
        return pixels(blur.high)
    if blur.low < LEAST_TOLD_PX:
        return f"at most {pixels(blur.high)}{_on_sensor(reading, (blur.high,))}"
    if blur.value is None:
        ends = f"between {blur.low:.1f} and {blur.high:.1f} pixels"
        return f"{ends}{_on_sensor(reading, (blur.low, blur.high))}"
    ends = f"{Spread((blur.low, blur.high)):.1f}"
    return f"{blur.value:.1f} pixels ({ends}){_on_sensor(reading, (blur.value,))}"


def _on_sensor(reading: Reading, ends_px: tuple[float, ...]) -> str:
    pixel = reading["file_pixel_um"]
    if pixel is None or pixel.middle <= 0:
        return ""
    words = " to ".join(figures(end * pixel.middle) for end in ends_px)
    return f", {words} µm on the sensor"


def _both(reading: Reading, name: str) -> str:
    """A worked-out blur in pixels of this file and in micrometres."""
    blur, pixel = reading[name], reading["file_pixel_um"]
    if blur is None or pixel is None or pixel.middle <= 0:
        return ""
    return f"{pixels(blur.middle / pixel.middle)} ({figures(blur.middle)} µm)"

"""The scale between two taps on millimetre marks, with what a finger leaves open. Pure."""

from dataclasses import dataclass

TAP_PX = 3.0  # how far a careful tap may lie from the mark, in pixels of the picture


@dataclass(frozen=True)
class Scale:
    px_per_mm: float
    low: float
    high: float


def scale_of(distance_px, millimetres, tap_px=TAP_PX):
    """Both taps may miss their mark, so the distance may be out by twice one tap."""
    if not distance_px > 2 * tap_px:
        raise ValueError(f"distance_px = {distance_px!r} is too short to measure from")
    if not millimetres > 0:
        raise ValueError(f"millimetres = {millimetres!r} must be above 0")
    doubt = 2 * tap_px
    return Scale(
        distance_px / millimetres,
        (distance_px - doubt) / millimetres,
        (distance_px + doubt) / millimetres,
    )

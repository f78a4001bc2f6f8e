"""What a phone (or any camera) did by itself: the lens it really used, zoom, exposures joined.

Said and never judged. From the standard's own tags alone: LensModel, LensSpecification,
FocalLength, FocalLengthIn35mmFilm, DigitalZoomRatio (Exif 3.0, CIPA DC-008), CompositeImage and
SourceImageNumberOfCompositeImage (since Exif 2.32), and IPTC's digital source type. Pure.
"""

from __future__ import annotations

from shootlog.recorded import Recorded

JOINED = {
    "no": "One exposure.",
    "general": "Several exposures of one moment joined, as phones do for every picture.",
    "while shooting": "Several exposures joined into this one picture.",
    "stacked": "Several exposures at different distances joined into this one picture.",
}
NO_ZOOM = 1.05  # below this a ratio is rounding
SEVERAL_LENSES = 1.2  # longest over shortest that no fixed lens has
SMALL_SENSOR = 3.0  # times: "sees as" is worth saying where the numbers are far apart


def by_itself(recorded: Recorded) -> str:
    """Return the sentences, or nothing where the file says nothing of the kind."""
    if recorded.composite is None and not _is_small(recorded):
        return ""
    said = [_lens(recorded), _zoom(recorded), _joined(recorded)]
    return " ".join(words for words in said if words)


def _is_small(recorded: Recorded) -> bool:
    focal, as_if = recorded.focal_length_mm, recorded.focal_length_35mm
    return bool(focal and as_if and as_if / focal >= SMALL_SENSOR)


def _lens(recorded: Recorded) -> str:
    focal, as_if = recorded.focal_length_mm, recorded.focal_length_35mm
    if not focal or not _is_small(recorded):
        return ""
    short, long = recorded.lens_shortest_mm, recorded.lens_longest_mm
    several = short and long and long / short >= SEVERAL_LENSES
    of = f", of those from {short:.3g} to {long:.3g} mm" if several else ""
    return f"Taken with the {focal:.3g} mm lens{of}; it sees as {as_if:.0f} mm on 36 x 24 mm."


def _zoom(recorded: Recorded) -> str:
    ratio = recorded.digital_zoom_ratio
    if ratio is None:
        return "" if recorded.composite is None else "Whether it zoomed digitally is not recorded."
    if ratio < NO_ZOOM:
        return "No digital zoom."
    return f"{ratio:.2g} times digital zoom: the middle of the sensor, enlarged."


def _joined(recorded: Recorded) -> str:
    words = JOINED.get(recorded.composite or "", "")
    count = recorded.composite_count
    if words and count and count > 1 and recorded.composite != "no":
        return words.replace("Several exposures", f"{count} exposures")
    return words

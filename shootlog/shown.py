"""A reading as rows for people: what it is called, the number, its range, where it comes from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shootlog.reading import QUANTITIES, Quantity, Reading
from shootlog.wording import written

#: The blocks of 'How we know', each a sentence that a table stands under.
BLOCKS = (
    (
        "What the camera wrote",
        (
            "f_number",
            "exposure_s",
            "iso",
            "exposure_bias_ev",
            "focal_length_mm",
            "subject_distance_mm",
            "digital_zoom_ratio",
        ),
    ),
    ("The sensor", ("sensor_width_mm", "pixel_pitch_um", "file_pixel_um")),
    (
        "How close",
        ("magnification", "lens_magnification", "subject_width_mm", "subject_depth_mm"),
    ),
    ("How much light came through", ("marked_f_number", "effective_f_number", "light_lost_stops")),
    (
        "How deep, and how fine",
        (
            "coc_um",
            "depth_of_field_mm",
            "wave_depth_of_field_mm",
            "airy_diameter_um",
            "airy_diameter_px",
            "diffraction_blur_um",
            "blur_at_depth_limits_um",
            "blur_at_subject_ends_um",
            "best_f_number",
            "shake_limit_s",
        ),
    ),
)
REST = "What the pixels show"

#: How each worked-out number is made, in words; the symbols are in the optics modules.
FORMULAS = {
    "subject_width_mm": "Sensor width divided by the magnification.",
    "effective_f_number": "Marked f-number times one plus magnification over pupil magnification.",
    "marked_f_number": "Effective f-number divided by one plus magnification over pupil "
    "magnification.",
    "light_lost_stops": "Two times the base-two logarithm of one plus magnification over pupil "
    "magnification.",
    "depth_of_field_mm": "Two times effective f-number times the circle of confusion, over "
    "magnification squared.",
    "wave_depth_of_field_mm": "Wavelength times effective f-number squared, over magnification "
    "squared: a quarter wave of defocus each way.",
    "airy_diameter_um": "2.44 times the wavelength (0.55 µm, mid green) times effective f-number.",
    "airy_diameter_px": "The smallest spot divided by the width of one pixel.",
    "pixel_pitch_um": "Sensor width divided by the pixels across it.",
    "file_pixel_um": "Sensor width divided by the pixels across this file.",
    "best_f_number": "Where the blur of depth and the blur of diffraction together are smallest.",
    "shake_limit_s": "One over focal length times crop factor times one plus magnification: the "
    "old hand-held rule, extended to close-up.",
}
#: The few numbers a person looks for first; the rest waits on 'How we know'.
FIRST = (
    "magnification",
    "f_number",
    "effective_f_number",
    "exposure_s",
    "iso",
    "depth_of_field_mm",
    "subject_width_mm",
    "airy_diameter_px",
)


@dataclass(frozen=True)
class Row:
    name: str
    label: str
    words: str  # the number with its unit, or "not known"
    range: str
    origin: str
    from_: str
    formula: str
    known: bool


def row(name: str, quantity: Quantity | None) -> Row:
    kind = QUANTITIES[name]
    if quantity is None:
        return Row(name, kind.label, "not known", "", "", "", FORMULAS.get(name, ""), False)
    spread = f"{quantity.spread:{kind.style}}"
    number = written(quantity.value, kind.style) if quantity.value is not None else spread
    unit = "" if kind.style == "seconds" else kind.unit
    return Row(
        name,
        kind.label,
        f"{number} {unit}".strip(),
        f"{spread} {unit}".strip() if spread != number else "",
        quantity.origin,
        quantity.from_,
        FORMULAS.get(name, "") if quantity.origin == "worked out" else "",
        True,
    )


@dataclass(frozen=True)
class Block:
    """The rows that are known, and the names of what this file leaves open."""

    title: str
    rows: list[Row]
    unknown: list[str]


def first_rows(reading: Reading) -> list[Row]:
    """The rows a frame page shows; what is not known is left to 'How we know'."""
    rows = [row(name, reading[name]) for name in FIRST if reading[name] is not None]
    if did := reading.fact("by_itself"):
        rows.append(Row("by_itself", "the camera by itself", did, "", "recorded", "", "", True))
    return rows


def blocks(reading: Reading) -> list[Block]:
    """Every quantity, known or not, under the blocks of 'How we know'."""
    placed = {name for _, names in BLOCKS for name in names}
    rest = tuple(name for name in QUANTITIES if name not in placed)
    return [_block(title, names, reading) for title, names in (*BLOCKS, (REST, rest))]


def _block(title: str, names: Iterable[str], reading: Reading) -> Block:
    rows = [row(name, reading[name]) for name in names]
    return Block(title, [r for r in rows if r.known], [r.label for r in rows if not r.known])


def routes(reading: Reading) -> list[tuple[str, str, str, bool]]:
    """Every way to the magnification: its name, the number in words, why, and whether used."""
    return [
        (
            way.name,
            f"{way.magnification.spread:two}" if way.magnification else "",
            way.words,
            way.used,
        )
        for way in reading.routes
    ]


def facts(reading: Reading, held: Iterable[str] = ()) -> list[tuple[str, str]]:
    """Facts that are no numbers, in words; without those held back from the reader."""
    told = []
    for name, value in reading.facts.items():
        if name in held:
            continue
        if isinstance(value, bool):
            told.append((name.replace("_", " "), "yes" if value else "no"))
        elif isinstance(value, str | int | float):
            told.append((name.replace("_", " "), str(value)))
    return told


def changed(before: Reading, after: Reading, names: Iterable[str] = ()) -> list[tuple[Row, Row]]:
    """The rows that read differently in two frames, for a pair."""
    pairs = []
    for name in names or CHANGE:
        a, b = row(name, before[name]), row(name, after[name])
        if (a.known or b.known) and a.words != b.words:
            pairs.append((a, b))
    return pairs


#: What a pair compares, in the order of cause and effect.
CHANGE = (
    "magnification",
    "f_number",
    "effective_f_number",
    "exposure_s",
    "iso",
    "depth_of_field_mm",
    "airy_diameter_px",
    "sharp_share",
    "wanted_sharp_share",
    "blur_px",
    "smear_px",
    "clipped_share",
    "blocked_share",
    "contrast",
)

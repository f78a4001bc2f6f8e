"""The depth of field measured on a ruler that leans away beside the subject, and by formula."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from optics.evidence.ruler import NoScale
from optics.evidence.ruler_depth import blur_growth, depth_mm
from shootlog.series.shot import Shot, rounded
from shootlog.wording import f_number

LEAN_DEG = 45.0  # as the exercise asks; a ruler alone does not say how far it leans
#: No lens has more stops, third by third; the pictures a ruler is looked for in are large.
MOST_FRAMES = 40


def depths(shots: Sequence[Shot]) -> list[dict[str, Any]] | None:
    """Measured and worked-out depth of each frame in mm; None where no ruler is found.

    A frame whose ticks lose too little to blur has no measured depth.
    """
    numbers = [shot.recorded.f_number for shot in shots]
    if any(shot.picture is None for shot in shots) or not all(numbers):
        return None
    pictures = [shot.picture for shot in shots if shot.picture is not None]
    if len({p.shape for p in pictures}) > 1 or min(pictures[0].shape) < 64:
        return None
    try:
        found = blur_growth(pictures, [float(n or 0) for n in numbers])
    except NoScale:
        return None
    rows = []
    for shot, picture, growth in zip(shots, pictures, found.disc_per_tick, strict=True):
        coc_um, pixel_um = (shot.reading.value(name) for name in ("coc_um", "file_pixel_um"))
        measured = None
        if growth and coc_um and pixel_um:
            coc_px = coc_um / (pixel_um * shot.width_px / picture.shape[1])
            measured = depth_mm(growth, found.spacing_px, coc_px, found.tick_mm, LEAN_DEG)
        rows.append(
            {
                "f_number": shot.recorded.f_number,
                "measured_mm": rounded(measured),
                "formula_mm": rounded(shot.reading.value("depth_of_field_mm")),
            }
        )
    return rows


def in_words(rows: Sequence[dict[str, Any]] | None) -> str:
    """One frame of those measured, beside the formula; empty where there is none."""
    both = [r for r in rows or [] if r["measured_mm"] and r["formula_mm"]]
    if not both:
        return ""
    row = both[len(both) // 2]
    return (
        f"On the ruler, taken to lean at {LEAN_DEG:.0f} degrees, {row['measured_mm']:.2f} mm "
        f"are sharp at {f_number(row['f_number'])} as recorded; "
        f"the formula says {row['formula_mm']:.2f} mm."
    )

"""Open a file's pixels once and say what they show: `look`.

One decode, one run over the picture in strips (detail, burnt pixels, the averaged picture), then
closer looks at a few small tiles. Everything measured here is in the stored picture's geometry and
turned at the end; lengths are in pixels of the sensor.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from optics.evidence import banding, clipping, dust, noise, sharpness
from shootlog.intake import closer, derivatives, turning
from shootlog.intake import wanted as place
from shootlog.intake.decode import Picture, open_picture
from shootlog.intake.moved_at import moved_at
from shootlog.intake.places import black_blocks, places
from shootlog.recorded import Recorded

Array = npt.NDArray[np.float64]

BLOCK_PX = sharpness.BLOCK_PX
MAP_BLOCK_PX = 16  # of the averaged picture
HISTOGRAM_BINS = 64
#: Sharp: blurred by no more than the picture's diagonal / 1500, the trade's usual circle.
SHARP_DIVISOR = 1500.0
#: What the averaged picture can tell apart at best, in its own pixels.
SMALLEST_SHARP_PX = 1.6
#: Edges softer than this many times the limit of sharp are soft beyond doubt.
CLEARLY_SOFT = 3.5
LEAST_SHARP = 0.002
#: Finest detail must stand this much above noise before a block counts as sharp.
LIMIT_OVER_NOISE = 1.8
#: Noise in the map, between these times the sigma of white noise that was measured.
LEAST_NOISE, MOST_NOISE = 0.5 * sharpness.NOISE_DETAIL, 1.6 * sharpness.NOISE_DETAIL
LIMIT_DUST_F_NUMBER = 8.0


@dataclass
class Small:
    """The averaged picture and what its blocks show."""

    picture: Image.Image
    luma: npt.NDArray[np.uint8]
    scale: float  # stored pixels along one of its own
    blur: Array | None = None  # of each block, in its own pixels; NaN where nothing shows it
    detail: Array | None = None  # fine, over noise
    coarse: Array | None = None
    sharp: npt.NDArray[np.bool_] | None = None

    @cached_property
    def black(self) -> Array:
        """Share of each block that is black."""
        return black_blocks(self.luma, (0, 0) if self.blur is None else self.blur.shape)


def look(
    path: Path, recorded: Recorded | None, into: Path | None, wanted: list[float] | None = None
) -> dict[str, Any]:
    """Return what the pixels of one file show; write its derivatives into a folder.

    ``wanted`` is a point [x, y] or a box [x, y, width, height] in shares of the picture as shown.
    A value that cannot be told is None. Raises `Unreadable`.
    """
    picture = open_picture(Path(path), plain_colour=True)
    detail, small = _run_over(picture)
    whole = picture.rgb if picture.packed is None else picture.packed
    burnt = clipping.measure(whole, BLOCK_PX)
    noise_sigma = closer.noise_sigma(picture.rgb, detail, small.luma, picture.quantisation)
    _judge_blocks(small, noise_sigma)
    found = closer.look_closer(picture.rgb, small, noise_sigma)
    evidence = _empty()
    evidence |= _about_exposure(burnt, small)
    evidence |= _about_sharpness(small, burnt, picture.orientation)
    evidence |= _about_blur(found, picture)
    _agree(evidence, small, picture)
    if wanted:
        enlarged = bool(recorded and (recorded.digital_zoom_ratio or 1.0) > 1.0)
        place.look_at(evidence, small, picture, noise_sigma, wanted, enlarged=enlarged)
        there = turning.box_as_stored(place.as_box(wanted), picture.orientation)
        evidence |= moved_at(picture, recorded, there)
    evidence |= _about_noise(noise_sigma, recorded, picture)
    evidence |= _about_lamps_and_dust(small, recorded, picture)
    evidence |= _size(picture)
    evidence["crops"] = places(
        small,
        burnt.blocks,
        evidence,
        size=picture.rgb.shape[:2],
        orientation=picture.orientation,
        scale=picture.scale,
        wanted=turning.box_as_stored(place.as_box(wanted), picture.orientation) if wanted else None,
    )
    if into is not None:
        shown = derivatives.in_srgb(small.picture, picture.profile, picture.notes)
        derivatives.write(shown, picture.orientation, into)
        _keep_maps(small, detail, burnt.blocks, picture.orientation, into)
    evidence["notes"] = picture.notes
    return evidence


def _empty() -> dict[str, Any]:
    return dict.fromkeys(KEYS)


KEYS = (
    "clipped_share", "clipped_by_channel", "clipped_in_sharp_share", "glint_share",
    "blocked_share", "blocked_inside_share", "sharp_share", "sharp_box", "wanted_sharp_share",
    "wanted_blur_px", "wanted_blur_low_px", "wanted_blur_high_px", "wanted_round_share",
    "wanted_offset_share", "moved_px", "moved_low_px", "moved_high_px", "moved_elsewhere",
    "blur_px", "blur_low_px", "blur_high_px", "smear_px",
    "smear_low_px", "smear_high_px", "smear_angle_deg", "smear_share", "smear_where", "smear_alike",
    "crisp_px", "soft_way_px", "noise_sigma", "noise_expected_sigma", "banding_period_px",
    "banding_share", "spots", "mean_luminance", "contrast", "shadow_side", "histogram",
    "width_px", "height_px", "turned", "crops", "notes",
)  # fmt: skip


def _run_over(picture: Picture) -> tuple[Array, Small]:
    """Pool the detail at full resolution and average the picture, strip by strip."""
    rgb = picture.rgb
    height, width = rgb.shape[:2]
    factor = derivatives.factor_for(max(height, width))
    strip = BLOCK_PX * factor
    detail = np.zeros((height // BLOCK_PX, width // BLOCK_PX))
    kind = "RGB" if picture.packed is None else "RGBX"  # as it comes, or pasting would convert it
    averaged = Image.new(kind, (-(-width // factor), -(-height // factor)))
    # one row above and below a row of blocks: the lower one is the next strip's first, so the
    # blocks lie one row higher than their number says
    rows = np.zeros((BLOCK_PX + 2, width), np.int16)
    room, into_room = _shared(strip, width)
    scratch = sharpness.scratch_for(BLOCK_PX, width)
    for top in range(0, height, strip):
        colour = _for_pillow(picture, slice(top, top + strip))
        grey = room[: colour.height]
        into_room.paste(colour.convert("L"), (0, 0))
        for inner in range(0, len(grey) - BLOCK_PX + 1, BLOCK_PX):
            rows[:2] = rows[-2:]
            rows[2:] = grey[inner : inner + BLOCK_PX]
            if top + inner == 0:
                rows[:2] = rows[2]
            if width >= 2:
                at = (top + inner) // BLOCK_PX
                detail[at] = sharpness.block_rows(rows, BLOCK_PX, scratch)[0]
        averaged.paste(colour.reduce(factor) if factor > 1 else colour, (0, top // factor))
    fitted = derivatives.fitted(averaged, derivatives.SCREEN_PX)
    luma = np.asarray(fitted.convert("L"))
    return detail, Small(fitted, luma, width / fitted.size[0])


def _shared(height: int, width: int) -> tuple[npt.NDArray[np.uint8], Image.Image]:
    """Return memory both as an array and as a picture: what is pasted into this is in that."""
    room = np.zeros((height, width), np.uint8)
    picture = Image.frombuffer("L", (width, height), room, "raw", "L", 0, 1)  # type: ignore[arg-type]
    picture.readonly = 0
    return room, picture


def _for_pillow(picture: Picture, rows: slice) -> Image.Image:
    """Return some rows for Pillow, without a copy where they lie in memory as it wants them."""
    if picture.packed is None:
        return Image.fromarray(picture.rgb[rows])
    part = picture.packed[rows]
    size = part.shape[1], part.shape[0]
    return Image.frombuffer("RGBX", size, part, "raw", "RGBX", 0, 1)  # type: ignore[arg-type]


def _judge_blocks(small: Small, noise_sigma: float | None) -> None:
    """Say of every block how blurred it is, and which are sharp."""
    block = min(MAP_BLOCK_PX, min(small.luma.shape) // 8 // 4 * 4)
    if block < 4:
        return
    coarse_luma = np.asarray(Image.fromarray(small.luma).reduce(4))
    fine = sharpness.sharpness_map(small.luma, block)
    coarse = sharpness.sharpness_map(coarse_luma, block // 4)
    down, across = (min(a, b) for a, b in zip(fine.shape, coarse.shape, strict=True))
    fine, coarse = fine[:down, :across], coarse[:down, :across]
    # JPEG leaves noise where it found some; rounding to 8 bits is noise too
    sigma = max((noise_sigma or 1.0) / small.scale, 0.4)
    floor = (
        float(np.clip(1.25 * sharpness.noise_floor(fine), LEAST_NOISE * sigma, MOST_NOISE * sigma)),
        sharpness.NOISE_DETAIL * max(sigma / 4.0, 0.29),
    )
    small.blur = sharpness.blur_map(fine, coarse, 4, *floor)
    small.detail = np.maximum(fine - floor[0], 0.0)
    small.coarse = np.maximum(coarse - floor[1], 0.0)
    diagonal = float(np.hypot(*small.luma.shape))
    limit = max(diagonal / SHARP_DIVISOR, SMALLEST_SHARP_PX)
    small.sharp = (np.nan_to_num(small.blur, nan=np.inf) <= limit) & (
        fine > LIMIT_OVER_NOISE * floor[0]
    )


def _about_exposure(burnt: clipping.Clipping, small: Small) -> dict[str, Any]:
    luma = small.luma
    counts = np.asarray(Image.fromarray(luma).histogram(), float)
    shares = counts / counts.sum()
    low, high = (int(np.searchsorted(np.cumsum(shares), q)) for q in (0.05, 0.95))
    light = (np.arange(256) / 255.0) ** 2.2
    thumb = np.asarray(Image.fromarray(luma).reduce(max(max(luma.shape) // 128, 1)))
    return {
        "clipped_share": burnt.share,
        "clipped_by_channel": list(burnt.by_channel),
        "glint_share": burnt.glints,
        "blocked_share": burnt.blocked,
        "blocked_inside_share": burnt.blocked_inside,
        "mean_luminance": float((shares * light).sum()),
        "contrast": (high - low) / 255.0,
        "shadow_side": clipping.shadow_side(thumb),
        "histogram": shares.reshape(HISTOGRAM_BINS, -1).sum(axis=1).round(5).tolist(),
    }


def _about_sharpness(small: Small, burnt: clipping.Clipping, orientation: int) -> dict[str, Any]:
    if small.sharp is None or small.blur is None:
        return {}
    found: dict[str, Any] = {"sharp_share": float(small.sharp.mean())}
    if np.isnan(small.blur).all():
        return {"sharp_share": None}
    if small.sharp.any():
        box = _box_around(small.sharp)
        found["sharp_box"] = turning.box_as_shown(box, orientation)
        found["clipped_in_sharp_share"] = _burnt_inside(burnt.blocks, small.sharp)
    return found


def _agree(evidence: dict[str, Any], small: Small, picture: Picture) -> None:
    """Nothing sharp is said only where edges say so too: the map does not know every texture."""
    limit = max(float(np.hypot(*small.luma.shape)) / SHARP_DIVISOR, SMALLEST_SHARP_PX)
    limit *= small.scale * picture.scale
    share, low = evidence["sharp_share"], evidence["blur_low_px"]
    if share is not None and share < LEAST_SHARP and (low is None or low < CLEARLY_SOFT * limit):
        evidence["sharp_share"] = None


def _box_around(sharp: npt.NDArray[np.bool_]) -> list[float]:
    """Return the box that holds all but the outermost twentieth of the sharp blocks."""
    sides = []
    for axis in (1, 0):
        share = np.cumsum(sharp.sum(axis=1 - axis)) / sharp.sum()
        first, last = int(np.searchsorted(share, 0.05)), int(np.searchsorted(share, 0.95))
        sides.append((first / share.size, (last + 1) / share.size))
    (left, right), (top, bottom) = sides
    return [left, top, right - left, bottom - top]


def _burnt_inside(burnt: Array, sharp: npt.NDArray[np.bool_]) -> float | None:
    if not burnt.size:
        return None
    rows = (np.arange(sharp.shape[0]) * burnt.shape[0] // sharp.shape[0])[:, None]
    columns = (np.arange(sharp.shape[1]) * burnt.shape[1] // sharp.shape[1])[None]
    return float(burnt[rows, columns][sharp].mean())


def _about_blur(found: closer.Closer, picture: Picture) -> dict[str, Any]:
    scale = picture.scale

    def times(value: float | None) -> float | None:
        return None if value is None else round(float(value) * scale, 2)

    values: dict[str, Any] = {
        "blur_px": times(found.blur_px),
        "blur_low_px": times(found.blur_low_px),
        "blur_high_px": times(found.blur_high_px),
    }
    if found.by_way is not None and np.isfinite(found.by_way).any():
        values["crisp_px"] = times(float(np.nanmedian(found.by_way)))
        values["soft_way_px"] = times(float(np.nanmax(found.by_way)))
    smear = found.smear
    if smear is not None:
        values |= {
            "smear_px": times(smear.length_px),
            "smear_low_px": times(smear.low_px),
            "smear_high_px": times(smear.high_px),
            "smear_share": round(smear.share, 2),
            "smear_alike": round(smear.alike, 2),
            "smear_where": ("frame" if smear.sure else "maybe") if smear.length_px else None,
        }
        if smear.angle_deg is not None:
            angle = turning.angle_as_shown(smear.angle_deg, picture.orientation)
            values["smear_angle_deg"] = round(angle, 1)
    return values


def _about_noise(
    sigma: float | None, recorded: Recorded | None, picture: Picture
) -> dict[str, Any]:
    expected = None
    if recorded is not None and recorded.iso:
        pitch = recorded.focal_plane_pitch_um
        if pitch is None and recorded.focal_plane_width_mm and recorded.width_px:
            pitch = recorded.focal_plane_width_mm * 1000.0 / recorded.width_px
        expected = noise.expected_sigma(recorded.iso, pitch, compressed=picture.camera_jpeg)
    return {"noise_sigma": sigma, "noise_expected_sigma": expected}


def _about_lamps_and_dust(
    small: Small, recorded: Recorded | None, picture: Picture
) -> dict[str, Any]:
    luma = np.asarray(Image.fromarray(small.luma).reduce(max(max(small.luma.shape) // 512, 1)))
    found: dict[str, Any] = {"banding_share": 0.0}
    bands = banding.measure(luma)
    if bands is not None:
        rows = picture.rgb.shape[0] / luma.shape[0] * picture.scale
        found = {"banding_period_px": bands[0] * rows, "banding_share": bands[1]}
    f_number = recorded.f_number if recorded is not None else None
    if f_number is not None and f_number >= LIMIT_DUST_F_NUMBER:
        # in the stored picture's geometry: the sensor does not turn with the camera
        found["spots"] = [
            [round(float(v), 5) for v in spot] for spot in dust.spots(luma, radius_px=2)
        ]
    return found


def _size(picture: Picture) -> dict[str, Any]:
    height, width = (side * picture.scale for side in picture.rgb.shape[:2])
    if picture.orientation >= 5:
        height, width = width, height
    return {"width_px": width, "height_px": height, "turned": picture.orientation}


def _keep_maps(small: Small, detail: Array, burnt: Array, orientation: int, into: Path) -> None:
    """Keep as shown what series and overlays need: maps of blocks and a 512-pixel `luma`."""
    longest = max(small.luma.shape)
    reduced = Image.fromarray(small.luma)
    if longest > derivatives.THUMB_PX:
        factor = derivatives.THUMB_PX / longest
        size = [max(round(side * factor), 1) for side in reduced.size]
        reduced = reduced.resize((size[0], size[1]), Image.Resampling.BOX, reducing_gap=1.0)
    blur = small.blur if small.blur is not None else np.zeros((0, 0))
    arrays = {
        "detail": detail.astype(np.float16),
        "blur_px": (blur * small.scale).astype(np.float16),
        "luma": np.asarray(reduced),
        "sharp": small.sharp if small.sharp is not None else np.zeros((0, 0), bool),
        "burnt": (255.0 * burnt).astype(np.uint8),
        "black": (255.0 * small.black).astype(np.uint8),
    }
    turned = {key: turning.array_as_shown(value, orientation) for key, value in arrays.items()}
    np.savez(into / "map.npz", **turned)  # type: ignore[arg-type]

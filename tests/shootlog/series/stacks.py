"""Small stacks with a known truth: a textured relief, defocus by depth, frame by frame."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np
from PIL import Image
from scipy.ndimage import affine_transform, gaussian_filter

from shootlog.reading import Reading
from shootlog.recorded import Recorded
from shootlog.series.shot import Shot

SIZE = (400, 600)


def textured(rng, size):
    """Texture at all scales, as lichen or a wing case has."""
    total = sum(
        gaussian_filter(rng.normal(0, 1, size), s) * s * weight
        for s, weight in ((0.7, 1.0), (1.5, 0.8), (4, 0.7), (12, 0.6))
    )
    return 110 + 30 * total / total.std()


def dome(size):
    """Depth 0 at the nearest point, 1 at the rim and beyond: a beetle on paper."""
    y, x = np.mgrid[-1 : 1 : size[0] * 1j, -1.3 : 1.3 : size[1] * 1j]
    return 1 - np.sqrt(np.clip(1 - (x**2 + 1.3 * y**2), 0, 1))


def slope(size):
    return np.broadcast_to(np.linspace(0, 1, size[1]), size)


@dataclass
class Stack:
    """`focus`: position of each frame in the depth map's units."""

    focus: np.ndarray
    depth: np.ndarray
    frames: list = field(default_factory=list)


def make(
    seed,
    *,
    focus,
    depth=None,
    blur_per_depth=20.0,
    base_px=0.7,
    scale_per_frame=1.0015,
    shifts=None,
    turns=None,
    gains=None,
    noise=1.5,
    size=SIZE,
):
    """Render the frames; `shifts` in px, `turns` in degrees, `gains` in stops, per frame."""
    rng = np.random.default_rng(seed)
    depth = dome(size) if depth is None else depth
    picture = textured(rng, size)
    focus = np.asarray(focus, float)
    count = len(focus)
    shifts = np.zeros((count, 2)) if shifts is None else np.asarray(shifts, float)
    turns = np.zeros(count) if turns is None else np.asarray(turns, float)
    gains = np.zeros(count) if gains is None else np.asarray(gains, float)
    sigmas = base_px * np.concatenate([[1.0], np.geomspace(1.15, 12, 12)])
    layers = np.stack([gaussian_filter(picture, s) for s in sigmas])
    stack = Stack(focus, depth)
    for k in range(count):
        wanted = np.hypot(base_px, np.abs(depth - focus[k]) * blur_per_depth)
        place = np.interp(wanted, sigmas, np.arange(len(sigmas)))
        low = np.minimum(place.astype(int), len(sigmas) - 2)
        first = np.take_along_axis(layers, low[None], 0)[0]
        frame = first + (place - low) * (np.take_along_axis(layers, low[None] + 1, 0)[0] - first)
        # the scale follows the travel, as it does on a rail: a missed slice doubles its step
        travel = (focus[k] - focus[0]) / np.median(np.diff(focus))
        frame = _moved(frame, scale_per_frame**travel, turns[k], shifts[k])
        linear = (np.clip(frame, 1, 255) / 255) ** 2.2 * 2.0 ** gains[k]
        frame = 255 * linear ** (1 / 2.2) + rng.normal(0, noise, size)
        stack.frames.append(np.clip(frame, 0, 255).astype(np.float32))
    return stack


def _moved(frame, scale, turn_deg, shift):
    if scale == 1 and not turn_deg and not np.any(shift):
        return frame
    cos, sin = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    back = np.linalg.inv(scale * np.array([[cos, -sin], [sin, cos]]))
    half = (np.array(frame.shape) - 1) / 2
    offset = half - back @ (half + np.asarray(shift))
    return affine_transform(frame, back, offset=offset, order=1, mode="reflect")


def sharpness(frame, block=16):
    """Mean modified Laplacian per block: what the house's map holds, written plainly."""
    f = frame.astype(np.float32)
    ml = np.zeros_like(f)
    ml[1:-1, 1:-1] = np.abs(2 * f[1:-1, 1:-1] - f[:-2, 1:-1] - f[2:, 1:-1]) + np.abs(
        2 * f[1:-1, 1:-1] - f[1:-1, :-2] - f[1:-1, 2:]
    )
    h, w = (s // block for s in f.shape)
    return ml[: h * block, : w * block].reshape(h, block, w, block).mean(axis=(1, 3))


def shots_of(stack, *, recorded=None, names=None):
    """The frames as the house opens them: sharpness map, 512-pixel picture, facts."""
    out = []
    for k, frame in enumerate(stack.frames):
        small = Image.fromarray(np.rint(frame).astype(np.uint8))
        share = 512 / small.width
        small = small.resize((512, round(small.height * share)), Image.Resampling.BOX)
        facts = recorded[k] if recorded else Recorded(taken_at=f"2026-05-01T10:{k:02d}:00")
        out.append(
            Shot(
                file=names[k] if names else f"{k + 1:02d}.jpg",
                recorded=facts,
                reading=Reading(),
                detail=sharpness(frame),
                luma=np.asarray(small),
                width_px=frame.shape[1],
                height_px=frame.shape[0],
            )
        )
    return out


def random_stack(
    seed,
    *,
    drop=False,
    nudge_px=0.0,
    turn_deg=0.0,
    jump_ev=0.0,
    starts=-0.08,
    ends=1.04,
    blur_per_step=None,
):
    """A stack of 10 to 24 frames, on a rail or without change of scale, with one thing done to it.

    A step blurs by a deviation of 0.7 to 1.3 pixels, as steps too long do, or by what is given.
    Returns the stack and what was done: (position, ...) 1-based, between it and the next.
    """
    rng = np.random.default_rng(seed)
    count = int(rng.integers(11, 25))
    depth = (dome if seed % 2 else slope)(SIZE)
    focus = np.linspace(starts, ends, count)
    usual = rng.uniform(0.7, 1.3)
    blur = (usual if blur_per_step is None else blur_per_step) * (count - 1) / (ends - starts)
    at = int(rng.integers(3, count - 4))
    if drop:
        focus, count = np.delete(focus, at), count - 1
    drift = rng.normal(0, 0.3, 2)
    travel = (focus - focus[0]) / np.median(np.diff(focus))
    shifts = np.outer(travel, drift) + rng.normal(0, 0.05, (count, 2))
    turns = np.zeros(count)
    gains = np.zeros(count)
    way = rng.uniform(0, 2 * np.pi)
    shifts[at:] += nudge_px * np.array([np.cos(way), np.sin(way)])
    turns[at:] += turn_deg
    gains[at:] += jump_ev
    made = make(
        seed,
        focus=focus,
        depth=depth,
        blur_per_depth=blur,
        scale_per_frame=1.0 if seed % 4 < 2 else float(rng.uniform(1.001, 1.003)),
        shifts=shifts,
        turns=turns,
        gains=gains,
    )
    return made, at


def still(frames):
    """Pictures made otherwise, as a stack that does not travel."""
    return Stack(np.zeros(len(frames)), np.zeros(SIZE), list(frames))


def recorded_at(k, **facts):
    """What was recorded of frame k of a morning, `every_s` seconds after the one before."""
    moment = dt.datetime.fromisoformat("2026-05-01T10:00:00") + dt.timedelta(
        seconds=facts.pop("every_s", 8) * k
    )
    return Recorded(taken_at=moment.isoformat(), **facts)

"""Rulers and things that only look like them, drawn flat and seen by a pinhole camera.

Kept apart from the method: nothing here knows how the ticks are looked for.
"""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFilter
from scipy.ndimage import gaussian_filter

SIZE = (1365, 2048)
FLAT_PX_PER_MM = 60.0


def flat_ruler(rng, *, length_mm, tick_mm=1.0, steel=False):
    """A drawn ruler, its upper edge on the first row, and the row (mm) of its ticks' middle."""
    scale, height_mm = FLAT_PX_PER_MM, 16.0
    ground, ink = (150, 40) if steel else (int(rng.integers(190, 245)), int(rng.integers(10, 80)))
    width = int(length_mm * scale)
    flat = Image.new("L", (width, int(height_mm * scale)), ground)
    if steel:
        grain = rng.normal(0, 14, (flat.height, 1)) + rng.normal(0, 3, (flat.height, width))
        flat = Image.fromarray(np.clip(np.asarray(flat) + grain, 0, 255).astype(np.uint8))
    draw = ImageDraw.Draw(flat)
    short = rng.uniform(2.0, 4.5)
    fifth, tenth = short * rng.uniform(1.25, 1.5), short * rng.uniform(1.6, 2.1)
    thick = rng.uniform(0.08, 0.22) * tick_mm
    top = rng.uniform(0.0, 0.6)
    for n in range(int(length_mm / tick_mm)):
        mm = n * tick_mm + 0.5
        whole = n * tick_mm
        long = tenth if whole % 10 == 0 else fifth if whole % 5 == 0 else short
        if whole % 1:
            long = short * 0.65
        draw.rectangle(
            [(mm - thick / 2) * scale, top * scale, (mm + thick / 2) * scale, (top + long) * scale],
            fill=ink,
        )
        if whole % 10 == 0:
            label = Image.new("L", (60, 30), 0)
            ImageDraw.Draw(label).text((2, 2), str(n // 10), fill=255)
            label = label.crop(label.getbbox()).resize((int(2.2 * scale), int(3 * scale)))
            flat.paste(ink, (int((mm - 1.1) * scale), int((top + tenth + 0.8) * scale)), label)
    return np.asarray(flat, dtype=np.float32), top + short / 2


def dead_leaves(rng, size=SIZE, count=1200):
    """Discs over discs, sizes by a power law: what a leaf litter looks like to a filter."""
    picture = Image.new("L", (size[1], size[0]), 120)
    draw = ImageDraw.Draw(picture)
    for radius in np.sort(8 * rng.pareto(1.6, count) + 4)[::-1]:
        radius = min(radius, 400)
        x, y = rng.uniform(0, size[1]), rng.uniform(0, size[0])
        draw.ellipse(
            [x - radius, y - radius, x + radius, y + radius], fill=int(rng.integers(20, 235))
        )
    return np.asarray(picture.filter(ImageFilter.GaussianBlur(1.0)), dtype=np.float32)


class View:
    """A pinhole camera over a plane tilted about an axis at `axis_deg` to the ruler."""

    def __init__(self, px_per_mm, angle_deg, tilt_deg, axis_deg, image_distance_px, centre_mm):
        turn, tilt, axis = np.radians([angle_deg, tilt_deg, axis_deg])
        distance_mm = image_distance_px / px_per_mm
        spin = _about([0, 0, 1], -turn)
        lean = _about([np.cos(axis), np.sin(axis), 0], tilt)
        plane = spin @ lean
        self.matrix = np.diag([image_distance_px, image_distance_px, 1]) @ np.column_stack(
            [
                plane[:, 0],
                plane[:, 1],
                plane @ [-centre_mm[0], -centre_mm[1], 0] + [0, 0, distance_mm],
            ]
        )

    def px_of(self, mm):
        x, y, w = self.matrix @ np.array([mm[0], mm[1], 1.0])
        return np.array([x / w, y / w])

    def px_per_mm_along(self, mm):
        return (
            np.linalg.norm(self.px_of((mm[0] + 0.01, mm[1])) - self.px_of((mm[0] - 0.01, mm[1])))
            / 0.02
        )

    def depth_mm(self, x, y):
        inverse = np.linalg.inv(self.matrix)
        return 1 / (inverse[2, 0] * x + inverse[2, 1] * y + inverse[2, 2])


def _about(axis, angle):
    x, y, z = axis
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


def seen(flat, view, ground, *, blur_px=0.0, falloff_px=0.0, noise=0.0, rng):
    """The flat drawing through the camera, over `ground`, blurred by depth, with noise."""
    size = ground.shape
    to_flat = np.linalg.inv(view.matrix)
    shift = np.array([[1, 0, -size[1] / 2], [0, 1, -size[0] / 2], [0, 0, 1]])
    h = np.diag([FLAT_PX_PER_MM, FLAT_PX_PER_MM, 1]) @ to_flat @ shift
    # shrink first by blur: the drawing is finer than the picture
    shrink = FLAT_PX_PER_MM / view.px_per_mm_along((flat.shape[1] / 2 / FLAT_PX_PER_MM, 2.0))
    image = Image.fromarray(flat.astype(np.uint8)).filter(
        ImageFilter.GaussianBlur(float(0.4 * shrink))
    )
    mask = Image.new("L", image.size, 255)
    h = (h / h[2, 2]).ravel()[:8]
    put = {
        "method": Image.Transform.PERSPECTIVE,
        "data": tuple(h),
        "resample": Image.Resampling.BICUBIC,
    }
    picture = np.asarray(image.transform((size[1], size[0]), **put), dtype=np.float32)
    cover = np.asarray(mask.transform((size[1], size[0]), **put), dtype=np.float32) / 255
    picture = picture * cover + ground * (1 - cover)
    if falloff_px or blur_px:
        y, x = np.mgrid[: size[0], : size[1]] - np.array(size)[:, None, None] / 2
        depth = view.depth_mm(x, y) - view.depth_mm(0, 0)
        span = max(np.ptp(depth), 1e-6)
        wanted = np.hypot(blur_px, falloff_px * np.clip(2 * depth / span, -3, 3))
        steps = np.linspace(0, wanted.max(), 6)
        stack = [gaussian_filter(picture, s) for s in steps]
        place = np.interp(wanted, steps, np.arange(6))
        low = np.minimum(place.astype(int), 4)
        layers = np.stack(stack)
        share = (place - low).astype(np.float32)
        first = np.take_along_axis(layers, low[None], 0)[0]
        picture = first + share * (np.take_along_axis(layers, low[None] + 1, 0)[0] - first)
    return picture + rng.normal(0, noise, size).astype(np.float32)


def ruler_picture(seed, kind):
    """One ruler of a kind ('level', 'turned', 'steep', 'tilted', 'soft', 'noisy', 'half').

    Returns the picture and the true px/mm along the ruler at its nearest point to the centre.
    """
    rng = np.random.default_rng(seed)
    px = float(np.exp(rng.uniform(np.log(12), np.log(110))))
    angle = {"level": 0.0, "steep": rng.uniform(50, 130)}.get(kind, rng.uniform(-35, 35))
    tilt = rng.uniform(5, 25) if kind in ("tilted", "soft") else 0.0
    axis = 90 + rng.uniform(-30, 30)
    reach = 2600 / px
    flat, row = flat_ruler(
        rng,
        length_mm=min(200, 1.3 * reach),
        tick_mm=0.5 if kind == "half" else 1.0,
        steel=seed % 3 == 0,
    )
    centre = (flat.shape[1] / 2 / FLAT_PX_PER_MM, row + rng.uniform(-3, 3) * min(1, 90 / px))
    view = View(px, angle, tilt, axis, rng.uniform(6000, 16000), centre)
    ground = dead_leaves(rng) if seed % 2 else np.full(SIZE, 90.0, np.float32)
    picture = seen(
        flat,
        view,
        ground,
        blur_px=px * rng.uniform(0.05, 0.12) if kind in ("soft", "noisy") else 0.5,
        falloff_px=px * rng.uniform(0.05, 0.15) if kind == "soft" else 0.0,
        noise=8.0 if kind == "noisy" else 2.0,
        rng=rng,
    )
    along = np.linspace(0, flat.shape[1] / FLAT_PX_PER_MM, 4000)
    near = min(along, key=lambda mm: np.hypot(*view.px_of((mm, row))))
    return np.clip(picture, 0, 255), view.px_per_mm_along((near, row)), angle


def look_alike(seed, kind):
    """Things that repeat and are no ruler: fence, keyboard, weave, bricks, text, leaves, blinds."""
    rng = np.random.default_rng(seed)
    if kind == "leaves":
        return dead_leaves(rng) + rng.normal(0, 3, SIZE)
    if kind == "grain":
        return rng.normal(110, 20, SIZE)
    y, x = np.mgrid[: SIZE[0], : SIZE[1]].astype(np.float32)
    turn = np.radians(rng.uniform(-30, 30))
    u, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    p = rng.uniform(14, 90)
    if kind == "fence":
        picture = np.where((u % p < 0.6 * p) & (np.abs(v - 600) < 300), 200.0, 60.0)
        picture += 20 * rng.normal(size=200)[(u // p).astype(int) % 200]
    elif kind == "blinds":
        picture = 120 + 80 * np.sin(2 * np.pi * u / p)
    elif kind == "weave":
        picture = 120 + 60 * np.sign(np.sin(2 * np.pi * u / p) * np.sin(2 * np.pi * v / p))
    elif kind == "bricks":
        course = (v // p).astype(int)
        along = (u + (course % 2) * p) % (2 * p)
        picture = np.where((v % p < 0.12 * p) | (along < 0.12 * p), 210.0, 120.0)
        picture += 15 * rng.normal(size=997)[(course * 31 + (u // (2 * p)).astype(int)) % 997]
    elif kind == "keyboard":
        row = (v // p).astype(int)
        along = u + (row * 0.3 * p)
        key = (along // p).astype(int)
        cap = (np.abs(along % p - p / 2) < 0.4 * p) & (np.abs(v % p - p / 2) < 0.4 * p)
        glyph = rng.integers(0, 2, (97, 6, 4))
        gy = np.clip(((v % p) / p * 10 - 2).astype(int), 0, 5)
        gx = np.clip(((along % p) / p * 8 - 2).astype(int), 0, 3)
        letter = glyph[(row * 17 + key) % 97, gy, gx] & (np.abs(v % p - p / 2) < 0.25 * p)
        picture = np.where(cap, 70.0, 25.0) + 130.0 * (letter * cap)
    else:  # text
        line, key = (v // (2 * p)).astype(int), (u // (0.8 * p)).astype(int)
        glyph = rng.integers(0, 2, (97, 7, 5))
        word = rng.uniform(size=997) > 0.18
        gy = np.clip(((v % (2 * p)) / p * 7).astype(int), 0, 6)
        gx = np.clip(((u % (0.8 * p)) / (0.8 * p) * 6).astype(int), 0, 4)
        ink = glyph[(line * 41 + key * 7 + line * key) % 97, gy, gx] & (v % (2 * p) < p)
        picture = 225.0 - 190.0 * (ink & word[(line * 53 + key) % 997])
    soft = gaussian_filter(picture.astype(np.float32), 1.0)
    return np.clip(soft + rng.normal(0, 3, SIZE), 0, 255)

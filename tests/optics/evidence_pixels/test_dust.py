"""Dust: specks of known place drawn into rendered frames are found, and nothing else is claimed.

The frames come from the renderer (fixtures/render) and show different things, seen by one invented
sensor. A speck's shadow is a grain blurred by the cone of light that falls on it (geometry: the
glass lies about a millimetre before the pixels), so it is round, soft-edged and some tenths of a
per cent of the frame wide.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from optics.evidence import dust

RENDERED = Path(__file__).resolve().parents[3] / "fixtures" / "frames"
#: Different things, all at small openings.
FRAMES = (
    "beetle-f16", "dew-t5c-f32", "feather-q2m-f32", "flower-m0.5", "leaf-q2m-f32",
    "lichen-t5c-f22", "pod-m0.25", "watch-t5c-f32", "seed-head-m0.10", "shell-m1",
)  # fmt: skip
#: x and y in shares of the width, diameter in shares of the width, depth in shares of the light.
SPECKS = (
    (0.15, 0.20, 0.004, 0.5), (0.30, 0.10, 0.006, 0.35), (0.70, 0.15, 0.005, 0.3),
    (0.85, 0.50, 0.008, 0.5), (0.10, 0.60, 0.006, 0.4), (0.90, 0.09, 0.006, 0.4),
)  # fmt: skip


@cache
def picture(name):
    with Image.open(RENDERED / f"{name}.jpg") as opened:
        return opened.convert("RGB")


def luma(name, specks=(), seed=0):
    """As the log looks at it; with specks drawn into the light, and the noise of 8 bits."""
    light = (np.asarray(picture(name), float) / 255.0) ** 2.2
    rows, columns = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    for x, y, wide, depth in specks:
        away = np.hypot(columns - x * light.shape[1], rows - y * light.shape[1])
        edge = np.clip((1.4 - away / (wide * light.shape[1] / 2)) / 0.8, 0.0, 1.0)
        light *= (1.0 - depth * edge)[..., None]
    noisy = 255.0 * light ** (1 / 2.2) + np.random.default_rng(seed).normal(0, 0.7, light.shape)
    return np.asarray(Image.fromarray(noisy.clip(0, 255).round().astype(np.uint8)).convert("L"))


def stands(lumas):
    spots = [dust.spots(each, radius_px=2) for each in lumas]
    return dust.standing(spots, lambda a, b: dust.same_framing(lumas[a], lumas[b]))


def is_a_speck(place):
    return any(abs(place.x - x) < 0.005 and abs(place.y - y * 1.5) < 0.006 for x, y, *_ in SPECKS)


def test_specks_are_found_across_frames_of_different_things():
    found = stands([luma(name, SPECKS, seed) for seed, name in enumerate(FRAMES)])
    assert all(is_a_speck(place) for place in found)
    assert len(found) >= 3, f"{len(found)} of {len(SPECKS)} specks"
    assert all(len(place.frames) >= dust.LEAST_FRAMES for place in found)


def test_a_clean_sensor_is_not_called_dusty():
    assert stands([luma(name) for name in FRAMES]) == []


def test_frames_of_one_framing_prove_nothing():
    """A subject's own dark dots stand as still as the tripod: ten frames are one witness."""
    assert stands([luma("pod-m0.25", SPECKS, seed) for seed in range(5)]) == []


def test_the_renderer_s_own_dusty_frames_show_the_specks_put_on_their_sensor():
    """Three frames of fixtures/render with one dusty sensor; places from its scene code."""
    truth = ((0.21, 0.13), (0.66, 0.20), (0.82, 0.47), (0.40, 0.52))
    found = [
        (x, y)
        for name in ("pod-dust-2", "feather-dust-3")
        for x, y, _ in dust.spots(luma(name), radius_px=2)
    ]
    near = [
        any(abs(x - a) < 0.005 and abs(y - b * 1.5) < 0.006 for x, y in found) for a, b in truth
    ]
    assert sum(near) >= 3


def test_two_sheets_of_plain_paper_are_one_framing():
    plain = np.full((80, 120), 180, np.uint8)
    assert dust.same_framing(plain, plain)
    assert not dust.same_framing(plain, np.full((90, 120), 180, np.uint8))


def test_chance_is_kept_out():
    """Frames full of random spots meet in threes by chance; that is not claimed."""
    rng = np.random.default_rng(8)
    frames = [[(x, y, 0.5) for x, y in rng.random((40, 2))] for _ in range(60)]
    assert dust.standing(frames) == []
    for frame in frames[::6]:
        frame.append((0.4, 0.6, 0.5))
    (place,) = dust.standing(frames)
    assert (place.x, place.y) == pytest.approx((0.4, 0.6), abs=dust.LIMIT_APART)
    assert len(place.frames) >= 10

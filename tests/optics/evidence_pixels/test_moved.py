"""A thing that moved before a still ground, on pictures whose truth is known by construction.

The pictures are dead leaves (Lee, Mumford and Huang, Int. J. Computer Vision 41 (2001), 35), the
movement is their exact transfer, sin(pi f L) / (pi f L) along it (Jain 1989, section 8.3).
"""

from functools import cache

import numpy as np
import pytest

from optics.evidence import moved
from tests.optics.evidence_pixels import truth

SIDE, MIDDLE, REACH = 64, (256, 320), 112


@cache
def leaves(seed):
    return truth.dead_leaves(512, 640, smallest_px=10, seed=seed)


def frame(subject_px=0.0, all_px=0.0, angle_deg=0.0, seed=3):
    """A thing 240 pixels wide in the middle of a frame; it moved, or all of it did."""
    shape = (512, 640)
    pictures = []
    for own, length in ((seed, subject_px or all_px), (50, all_px)):
        light = leaves(own)
        response = truth.disc(light.shape, 1.0) * truth.smear(light.shape, length, angle_deg)
        pictures.append(truth.as_8_bit(truth.sampled(light, response), noise=2, quality=90))
    rows, columns = np.mgrid[0 : shape[0], 0 : shape[1]]
    on = np.hypot(rows - MIDDLE[0], columns - MIDDLE[1]) < 120
    return np.where(on, *pictures)


def asked(grey):
    (row, column), high = MIDDLE, REACH - SIDE
    places = [
        (r, c)
        for r in range(row - REACH, row + high + 1, SIDE // 2)
        for c in range(column - REACH, column + high + 1, SIDE // 2)
    ]
    rest = [
        (r, c)
        for r in range(0, grey.shape[0] - SIDE + 1, SIDE)
        for c in range(0, grey.shape[1] - SIDE + 1, SIDE)
        if not (abs(r + 32 - row) < REACH + 32 and abs(c + 32 - column) < REACH + 32)
    ]
    cut = lambda at: [grey[r : r + SIDE, c : c + SIDE] for r, c in at]  # noqa: E731
    found = moved.find(cut(places), places)
    return found, moved.shared_elsewhere(cut(rest), found)


@pytest.mark.parametrize(("length_px", "angle_deg"), [(7, 20), (8, 105), (10, 150), (14, 60)])
def test_what_moved_tells_its_length_and_direction(length_px, angle_deg):
    found, elsewhere = asked(frame(subject_px=length_px, angle_deg=angle_deg))
    assert found.stands
    assert moved.LOW * found.length_px <= length_px <= moved.HIGH * found.length_px
    assert abs((found.angle_deg - angle_deg + 90) % 180 - 90) <= 8
    assert elsewhere < moved.LIMIT_ELSEWHERE


@pytest.mark.parametrize("seed", [3, 4])
def test_what_stood_still_has_not_moved(seed):
    assert not asked(frame(seed=seed))[0].stands


@pytest.mark.parametrize(("length_px", "angle_deg"), [(7, 20), (10, 150)])
def test_a_shaken_camera_shows_elsewhere_too(length_px, angle_deg):
    found, elsewhere = asked(frame(all_px=length_px, angle_deg=angle_deg))
    assert found.stands
    assert elsewhere > 2 * moved.LIMIT_ELSEWHERE


def test_a_grain_that_runs_one_way_is_no_movement():
    """Wood or brushed metal: drawn out far along one direction, at all frequencies alike."""
    rng = np.random.default_rng(5)
    noise = rng.normal(0, 1, (512, 640))
    down, across = np.fft.fftfreq(512)[:, None], np.fft.fftfreq(640)[None]
    grain = np.exp(-((across * 60) ** 2)) / np.maximum(np.hypot(down, across), 0.01)
    drawn = np.fft.ifft2(np.fft.fft2(noise) * grain).real
    grey = np.clip(128 + 40 * drawn / drawn.std() + rng.normal(0, 2, drawn.shape), 0, 255)
    found, elsewhere = asked(grey.astype(np.uint8))
    assert not found.stands
    assert elsewhere > moved.LIMIT_ELSEWHERE


def test_ribs_that_grow_from_end_to_end_are_no_movement():
    """Lines of one width have a dark band as well; only a movement's is the same everywhere."""
    rng = np.random.default_rng(9)
    column = np.arange(640) * (1 + 0.5 * np.arange(640) / 640)
    ribs = 60 * (np.sin(2 * np.pi * column / 22) > 0.55)
    grey = 90 + ribs[None] + rng.normal(0, 6, (512, 640))
    assert not asked(np.clip(grey, 0, 255).astype(np.uint8))[0].stands


def test_too_little_to_see_tells_nothing():
    flat = [np.full((SIDE, SIDE), 120, np.uint8)] * 9
    assert moved.find(flat, [(0, 64 * k) for k in range(9)]) is None
    assert moved.find([], []) is None
    found = moved.Movement(9.0, 0.0, 0.8, 0.6, 4, 4)
    assert moved.shared_elsewhere(flat, found) is None

"""Frames turned, scaled and shifted by scipy: the truth is known by construction."""

import numpy as np
import pytest
from scipy.ndimage import affine_transform, gaussian_filter

from optics.evidence import registration as rg
from tests.optics.evidence.rulers import dead_leaves

SIZE = (341, 512)
FULL_PX = 6000 / SIZE[1]  # what one pixel here is in a frame of 24 million


def turned(scale, turn_deg):
    """Rows down, columns right: anticlockwise as seen takes a point on the right upwards."""
    cos, sin = scale * np.cos(np.radians(turn_deg)), scale * np.sin(np.radians(turn_deg))
    return np.array([[cos, -sin], [sin, cos]])


@pytest.fixture(scope="module")
def scene():
    rng = np.random.default_rng(3)
    leaves = dead_leaves(rng, (1200, 1600), count=2500)
    return gaussian_filter(leaves + gaussian_filter(rng.normal(0, 60, leaves.shape), 2.0), 0.9)


def view(scene, scale=1.0, turn_deg=0.0, shift=(0, 0), noise=2.0, seed=1):
    back = np.linalg.inv(turned(scale, turn_deg)) * 2
    middle, half = (np.array(scene.shape) - 1) / 2, (np.array(SIZE) - 1) / 2
    offset = middle - back @ (half + np.array(shift))
    frame = affine_transform(scene, back, offset=offset, output_shape=SIZE, order=3)
    return frame + np.random.default_rng(seed).normal(0, noise, SIZE)


def worst_corner(found, scale, turn_deg, shift):
    """Full-resolution pixels at the corner of the frame that is farthest off."""
    corners = np.array([[r * SIZE[0] / 2, c * SIZE[1] / 2] for r in (-1, 1) for c in (-1, 1)]).T
    off = (turned(found.scale, found.turn_deg) - turned(scale, turn_deg)) @ corners
    off += np.array(found.shift)[:, None] - np.array(shift)[:, None]
    return np.linalg.norm(off, axis=0).max() * FULL_PX


@pytest.mark.parametrize(
    ("scale", "turn_deg", "shift"),
    [
        (1.0, 0.0, (0.0, 0.0)),
        (1.0, 0.0, (7.3, -4.6)),
        (1.0012, 0.0, (0.2, 0.1)),
        (0.985, 0.4, (3.0, 5.0)),
        (1.1, 4.0, (-12.0, 15.0)),
        (0.91, -4.0, (12.0, -20.0)),
        (1.05, -2.0, (30.0, 40.0)),
    ],
)
def test_what_was_done_is_found(scene, scale, turn_deg, shift):
    found = rg.align(view(scene), view(scene, scale, turn_deg, shift, seed=2))
    assert worst_corner(found, scale, turn_deg, shift) < 1.0
    assert found.scale == pytest.approx(scale, abs=2e-4)
    assert found.turn_deg == pytest.approx(turn_deg, abs=0.01)


def focused(frame, at):
    """Sharp on one column, blurred by the distance from it: a tilted plane."""
    stack = np.stack([gaussian_filter(frame, s) for s in (0, 1, 2, 4)])
    away = np.abs(np.linspace(-1, 1, SIZE[1]) - at) * 4
    place = np.interp(away, (0, 1, 2, 4), range(4))
    low = np.minimum(place.astype(int), 2)
    columns = np.arange(SIZE[1])
    return stack[low, :, columns].T * (1 - (place - low)) + stack[low + 1, :, columns].T * (
        place - low
    )


def test_neighbours_of_a_stack_to_a_fraction_of_a_pixel(scene):
    off, scales = [], []
    for k, at in enumerate(np.linspace(-0.7, 0.6, 8)):
        scale, shift = 1.0012, (0.2 * (k - 3), -0.15 * (k - 4))
        first = focused(view(scene), at)
        second = focused(view(scene, scale, 0.01, shift, noise=0), at + 0.1)
        found = rg.align(first, second + np.random.default_rng(k).normal(0, 2, SIZE))
        off.append(worst_corner(found, scale, 0.01, shift))
        scales.append(found.scale - scale)
    print(f"\nworst corner, full px: median {np.median(off):.2f}, largest {max(off):.2f}")
    assert np.median(off) < 1.2
    assert max(off) < 2.5
    assert np.abs(np.median(scales)) < 1.5e-4


def test_a_chain_and_its_inverse(scene):
    a = rg.Alignment((3.0, -2.0), 1.02, 1.5)
    b = rg.Alignment((-1.0, 4.0), 0.97, -0.5)
    there = rg.composed(a, b)
    back = rg.composed(there, rg.inverse(there))
    assert back.scale == pytest.approx(1)
    assert back.turn_deg == pytest.approx(0)
    assert back.shift == pytest.approx((0, 0), abs=1e-9)
    assert there.scale == pytest.approx(1.02 * 0.97)


def test_warping_brings_the_moved_frame_back(scene):
    first, second = view(scene, noise=0), view(scene, 1.03, 1.0, (4.0, -6.0), noise=0)
    back = rg.warped(second, rg.align(first, second))
    inner = np.s_[40:-40, 40:-40]
    assert np.corrcoef(first[inner].ravel(), back[inner].ravel())[0, 1] > 0.99


def test_frames_of_different_things_do_not_match(scene):
    other = dead_leaves(np.random.default_rng(77), SIZE)
    with pytest.raises(rg.NoMatch):
        rg.align(view(scene), other)
    assert not rg.best_fit(np.zeros(SIZE), np.zeros(SIZE)).holds


def test_bad_input_is_refused():
    with pytest.raises(ValueError, match="size"):
        rg.align(np.zeros((100, 100)), np.zeros((100, 120)))
    with pytest.raises(ValueError, match="48 rows"):
        rg.align(np.zeros((10, 100)), np.zeros((10, 100)))
    with pytest.raises(ValueError, match="finite"):
        rg.align(np.full((100, 100), np.nan), np.zeros((100, 100)))

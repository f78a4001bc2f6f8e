"""Places of known depth, some of them beyond the first or the last frame: curves made here."""

import numpy as np
import pytest

from optics.evidence.beyond import believed, beyond_ends
from optics.evidence.stack_focus import sharpest

COUNT = 16
LEVELS = (1.0, 1.6, 2.8)  # widths of the curves: coarser detail is seen farther out


def places(depth, *, noise=0.03, seed=2):
    """Three levels of sharpness (K, N) of places at these depths, each with its own texture."""
    rng = np.random.default_rng(seed)
    width = rng.uniform(1.0, 1.6, len(depth))
    height = rng.uniform(15, 60, len(depth))
    levels = []
    for n, factor in enumerate(LEVELS):
        away = (np.arange(COUNT)[:, None] - depth) / (width * factor)
        level = 1.5 + 0.6**n * height / (1 + away**2) ** 1.5
        levels.append(level * np.exp(rng.normal(0, noise, level.shape)))
    return levels


def told(depth, **how):
    levels = places(depth, **how)
    place = sharpest(levels[0], np.arange(float(COUNT)))
    return beyond_ends(levels, place)


@pytest.fixture(scope="module")
def depth():
    return np.random.default_rng(4).uniform(-4, COUNT + 3, 1500)


def test_the_share_beyond_an_end_is_right(depth):
    first, last = told(depth)
    for end, out in ((first, -depth), (last, depth - (COUNT - 1))):
        for distance in (0.7, 1.5, 2.5):
            true = (out[end.places] > distance).mean()
            assert end.farther(distance).mean() == pytest.approx(true, abs=0.08)


def test_places_told_to_lie_far_out_do(depth):
    first, _ = told(depth)
    far = first.places[first.farther(0.7) > 0.9]
    assert len(far) > 30
    assert (-depth[far] > 0.7).mean() > 0.9


def test_an_end_in_front_of_everything_has_nothing_beyond():
    depth = np.random.default_rng(5).uniform(2, COUNT + 3, 1200)
    first, last = told(depth)
    assert first.farther(0.7).sum() < 2
    assert last.farther(0.7).sum() > 50


def test_grain_that_only_fine_detail_shows_is_not_believed(depth):
    """As the grain of a render, sharpest where the place is most blurred."""
    levels = places(depth)
    grain = np.abs(np.arange(COUNT)[:, None] - depth) * 8 + 2
    place = sharpest(grain, np.arange(float(COUNT)))
    assert believed([levels[0], levels[1]], sharpest(levels[0], np.arange(16.0))).mean() > 0.85
    assert believed([grain, levels[1]], place).mean() < 0.25


@pytest.mark.parametrize(("count", "enough"), [(6, False), (7, True)])
def test_a_short_stack_is_not_guessed(count, enough):
    """However much it shows: six frames hold no end with four more inwards to learn from."""
    depth = np.random.default_rng(6).uniform(-2, count + 1, 6000)
    levels = [level[:count] for level in places(depth)]
    ends = beyond_ends(levels, sharpest(levels[0], np.arange(float(count))))
    assert (ends is not None) is enough


def test_the_sharpest_place_between_uneven_steps():
    """The logarithm of a bell is a parabola, so three frames tell its top exactly."""
    position = np.array([0.0, 1.0, 2.0, 4.0, 5.0, 6.0])
    top = np.array([1.2, 2.9, 3.2, 4.6])
    fine = 40 * np.exp(-(((position[:, None] - top) / 1.1) ** 2)) + 1e-9
    assert sharpest(fine, position) == pytest.approx(top, abs=0.02)
    assert sharpest(fine[:, :1] * np.nan, position).tolist() == pytest.approx([np.nan], nan_ok=True)

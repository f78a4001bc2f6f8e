"""Lengths of steps from curves of sharpness made here: bells of many widths at many depths."""

import numpy as np
import pytest

from optics.evidence.focus_steps import step_lengths

LIMIT_GAIN = 0.2  # of one fineness of detail; a stack has four, whose gains add up


def bells(place, *, patches=400, noise=0.03, seed=1):
    """Sharpness of patches at random depths as the focus stands at `place`, over a floor."""
    rng = np.random.default_rng(seed)
    depth = rng.uniform(place[0] - 1, place[-1] + 1, patches)
    width = rng.uniform(0.8, 2.5, patches)
    height = rng.uniform(5, 60, patches)
    away = (np.asarray(place)[:, None] - depth) / width
    level = 2 + height / (1 + away**2)
    return level * np.exp(rng.normal(0, noise, level.shape))


@pytest.mark.parametrize("at", [4, 7, 11])
def test_a_missing_frame_makes_a_step_of_two(at):
    place = np.delete(np.arange(17.0), at)
    steps = step_lengths([bells(place)])
    assert steps.length[at - 1] == pytest.approx(2, abs=0.35)
    assert np.flatnonzero(steps.longer(1.5, LIMIT_GAIN)).tolist() == [at - 1]


def test_even_steps_are_even():
    steps = step_lengths([bells(np.arange(16.0))])
    assert not steps.longer(1.5, LIMIT_GAIN).any()
    assert np.nanmedian(steps.length) == pytest.approx(1, abs=0.15)


def test_a_jump_of_the_light_is_no_step():
    level = bells(np.arange(16.0))
    level[8:] *= 1.3
    assert not step_lengths([level]).longer(1.5, LIMIT_GAIN).any()


def test_a_flat_ground_passed_at_once_is_no_step():
    """Half of all patches at one depth, as paper behind a beetle."""
    rng = np.random.default_rng(3)
    away = (np.arange(16.0)[:, None] - 9.3) / rng.uniform(0.8, 1.2, 400)
    ground = (2 + 40 / (1 + away**2)) * np.exp(rng.normal(0, 0.03, away.shape))
    level = np.concatenate([bells(np.arange(16.0)), ground], axis=1)
    assert not step_lengths([level]).longer(1.5, LIMIT_GAIN).any()


def test_too_little_is_not_guessed():
    assert np.isnan(step_lengths([bells(np.arange(4.0))]).length).all()
    assert np.isnan(step_lengths([bells(np.arange(9.0), patches=6)]).length).all()

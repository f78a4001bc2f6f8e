"""Lengths of steps from the change of scale alone, where the travel is known."""

import numpy as np
import pytest

from optics.evidence.registration import Alignment
from optics.stack import scale_change_per_step
from shootlog.series.moves import Chain
from shootlog.series.steps import stack_steps

FOCAL_LENGTH_MM, MAGNIFICATION, STEP_MM = 100.0, 1.0, 0.5


def travelled(steps):
    """Frames on a rail with a 100 mm lens at life-size, each so many times half a millimetre on."""
    by_one = scale_change_per_step(STEP_MM, FOCAL_LENGTH_MM, MAGNIFICATION)
    return Chain([Alignment((0.0, 0.0), (1 + by_one) ** count, 0.0) for count in steps])


@pytest.mark.parametrize("missing", [0, 1, 5, 9, 10])
def test_a_long_step_does_not_make_those_beside_it_short(missing):
    """Where the frame was not taken is known, so every length is."""
    true = [2.0 if k == missing else 1.0 for k in range(11)]
    found = stack_steps(None, travelled(true))
    assert found.gaps == [[missing + 1, missing + 2]]
    np.testing.assert_allclose(found.length, true, rtol=0.01)


def test_frames_shot_to_and_fro_are_no_gaps():
    """1, 3, 5, 4, 6 of an even travel, as two cameras whose clocks differ leave them."""
    found = stack_steps(None, travelled([2.0, 2.0, -1.0, 2.0]))
    assert found.gaps == []
    there_and_back = stack_steps(None, travelled([1.0] * 4 + [-1.0] * 4))
    assert there_and_back.gaps == []


@pytest.mark.parametrize("true", [[10.0, 1.0, 10.0], [10.0, 1.0, 10.0, 1.0, 10.0]])
def test_whatever_is_called_long_has_a_length(true):
    """Long steps with hardly another between them: what is named is said with its number."""
    found = stack_steps(None, travelled(true))
    assert found.gaps
    assert (found.length[found.long] > 1.6).all()

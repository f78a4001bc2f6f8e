"""A slice blurred by wind among slices held still: drawn stacks, one frame blurred a little."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from shootlog.series import check
from tests.shootlog.series import stacks


@pytest.mark.parametrize("at", [5, 9])
def test_a_slice_blurred_by_wind_is_named(at):
    made, _ = stacks.random_stack(6)
    still = stacks.shots_of(made)
    made.frames[at - 1] = gaussian_filter(made.frames[at - 1], (0.6, 2.5))
    blown = stacks.shots_of(made)
    shots = [*still[: at - 1], blown[at - 1], *still[at:]]
    result = check("stack", shots)
    assert result["softened"] == [at]
    assert f"Frame {at} is softer" in result["words"]
    assert result["gaps"] == result["out_of_order"] == []


def test_slices_held_still_are_not_claimed():
    made, _ = stacks.random_stack(6)
    result = check("stack", stacks.shots_of(made))
    assert result["softened"] == []
    assert all(np.isfinite(result["focus_position"]))

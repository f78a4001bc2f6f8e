"""Aperture series: the best stop and the range it lies in, or why no curve is drawn."""

import json
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter

from shootlog.series import check
from tests.shootlog.series import stacks
from tests.shootlog.series.apertures import STOPS, aperture_series
from tests.shootlog.series.stacks import recorded_at, shots_of, still


@pytest.mark.parametrize("best", [5.6, 8.0, 9.5])
def test_best_stop_within_a_third_of_a_stop(best):
    result = check("apertures", aperture_series(best))
    assert abs(2 * np.log2(result["best_f_number"] / best)) < 1 / 3
    assert result["two_thirds_f_number"] > best
    json.dumps(result, allow_nan=False)


def test_a_moved_camera_draws_no_curve():
    result = check("apertures", aperture_series(8.0, move_at=3))
    assert result["best_f_number"] is None
    assert [m["between"] for m in result["moved"]] == [[3, 4]]
    assert "no curve" in result["words"]


def test_a_ring_turned_between_two_stops_draws_no_curve():
    """Sensor still, lens moved: the picture grows by a tenth of a per cent and more."""
    shots = aperture_series(8.0)
    turned = [
        replace(
            s,
            luma=np.asarray(
                Image.fromarray(s.luma).transform(
                    s.luma.shape[::-1],
                    Image.Transform.AFFINE,
                    (1 / 1.004, 0, 0.002 * s.luma.shape[1], 0, 1 / 1.004, 0.002 * s.luma.shape[0]),
                    Image.Resampling.BICUBIC,
                )
            ),
        )
        for s in shots[3:]
    ]
    result = check("apertures", [*shots[:3], *turned])
    assert result["best_f_number"] is None
    assert result["focus_changed"] is True
    assert "The focus changed between 3 and 4, so no curve is drawn." in result["words"]


def test_too_few_stops_draw_no_curve():
    result = check("apertures", aperture_series(8.0)[:3])
    assert result["best_f_number"] is None
    assert "4 or more different apertures" in result["words"]


def test_places_that_disagree_name_no_one_stop():
    """Half the picture lies in the plane of focus, half far behind: no stop is best for both."""
    shots = [
        replace(
            near, detail=np.where(np.arange(near.detail.shape[1]) < 18, near.detail, far.detail)
        )
        for near, far in zip(aperture_series(3.5), aperture_series(14.0), strict=True)
    ]
    result = check("apertures", shots)
    assert result["best_f_number"] is None
    assert "No one stop is best" in result["words"]
    assert "Mark the flat thing" in result["words"]


@pytest.mark.parametrize("box", [None, (0.4, 0.4, 0.1, 0.1)])
def test_too_little_fine_detail_draws_no_curve(box):
    """Soft clouds: enough to lay the frames over each other, and what is finer is noise."""
    rng = np.random.default_rng(1)
    clouds = gaussian_filter(stacks.textured(rng, stacks.SIZE), 6)
    clouds = 120 + 40 * (clouds - clouds.mean()) / clouds.std()
    frames = [clouds + rng.normal(0, 1.5, stacks.SIZE) for _ in STOPS]
    taken = [recorded_at(k, f_number=f) for k, f in enumerate(STOPS)]
    result = check("apertures", shots_of(still(frames), recorded=taken), {"subject_box": box})
    assert result["moved"] == []
    assert result["best_f_number"] is None
    assert "No curve is drawn: there is too little fine detail" in result["words"]

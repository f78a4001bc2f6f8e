"""Depth measured on a ruler that leans at 45 degrees, against what the renderer was told.

The frames were traced through a thin lens (fixtures/README.md); the depths beside them are
2 N (1 + m) c / m^2 with c = diagonal / 1500, worked out by the renderer's own truth.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from optics.evidence.ruler import NoScale
from optics.evidence.ruler_depth import blur_growth, depth_mm

FIXTURES = Path(__file__).parents[3] / "fixtures"
STOPS = (2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0)


def lumas(pattern):
    return [np.asarray(Image.open(path).convert("L")) for path in sorted(FIXTURES.glob(pattern))]


def of_the_demo():
    rows = tomllib.loads((FIXTURES / "demo/frames/index.toml").read_text("utf-8"))["frame"]
    mine = [r for r in rows if r["file"].startswith("kenji-aperture-series")]
    depths = [row["true"]["depth_of_field_mm"] for row in mine]
    coc_um = 1000 * np.hypot(17.28, 11.52) / 1500
    return lumas("demo/frames/kenji-aperture-series-*.jpg"), depths, coc_um / 14.4


def of_the_ribbon():
    facts = tomllib.loads((FIXTURES / "series/ribbon-apertures.toml").read_text("utf-8"))
    depths = facts["truth"]["depth_of_field_mm"]
    return lumas("series/ribbon-apertures/*.jpg"), depths, facts["optics"]["coc_um"] / 8.0


@pytest.mark.parametrize(("series", "least"), [(of_the_demo, 5), (of_the_ribbon, 3)])
def test_the_depth_on_the_ruler_within_a_tenth_of_the_truth(series, least):
    pictures, depths, coc_px = series()
    found = blur_growth(pictures, STOPS)
    assert found.tick_mm == 1.0
    measured = [
        None if g is None else depth_mm(g, found.spacing_px, coc_px, found.tick_mm, 45)
        for g in found.disc_per_tick
    ]
    known = [(m, true) for m, true in zip(measured, depths, strict=True) if m is not None]
    assert len(known) >= least
    for value, true in known:
        assert value == pytest.approx(true, rel=0.1)
    # stopped down the ticks lose too little for anything to be told, and nothing is
    assert measured[-2:] == [None, None]


def test_lichen_is_no_ruler():
    with pytest.raises(NoScale):
        blur_growth(lumas("series/lichen-apertures/*.jpg"), STOPS)


def test_a_ruler_square_to_the_camera_tells_no_depth():
    """The same sharp picture at all stops: nothing grows out of focus."""
    sharp = lumas("demo/frames/kenji-aperture-series-6.jpg")[0]
    assert blur_growth([sharp] * 4, (4.0, 8.0, 11.0, 16.0)).disc_per_tick == [None] * 4


def test_depth_from_the_growth():
    """A disc that grows by 0.1 tick a tick fills 0.2 tick's circle two ticks away on each side."""
    assert depth_mm(0.1, 20.0, 4.0, 1.0, 90) == pytest.approx(4.0)
    assert depth_mm(0.1, 20.0, 4.0, 0.5, 30) == pytest.approx(1.0)

"""One frame laid over another. The second was made from the first, so the truth is known."""

import io
import itertools

import numpy as np
import pytest
from PIL import Image

from shootlog.laid_over import laid_over
from tests.frames import make_frame

pytestmark = pytest.mark.django_db
W, H = 900, 600
_count = itertools.count()


def scene(seed=1):
    """Soft blots of many sizes, larger than the frame, so that it can move within."""
    random = np.random.default_rng(seed)
    total = np.zeros((H + 200, W + 200))
    for cell in (4, 9, 23, 60):
        small = Image.fromarray(random.normal(size=((H + 200) // cell, (W + 200) // cell)))
        total += np.asarray(small.resize((W + 200, H + 200), Image.Resampling.BICUBIC)) * cell**0.3
    total = 128 + 60 * total / np.abs(total).max()
    return Image.fromarray(total.clip(0, 255).astype("uint8"))


def framed(picture, size=(W, H)):
    left, top = (picture.width - size[0]) // 2, (picture.height - size[1]) // 2
    return picture.crop((left, top, left + size[0], top + size[1]))


def frame_of(owner, picture):
    out = io.BytesIO()
    comment = f"{next(_count)}".encode()
    picture.save(out, "JPEG", quality=92, comment=comment)
    recorded = {"width_px": picture.width, "height_px": picture.height, "origins": {}}
    return make_frame(owner, data=out.getvalue(), recorded=recorded, pictures=True)


def lands(matrix, x, y):
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f


@pytest.mark.parametrize(
    ("scale", "turn_deg", "shift"),
    [(1.0, 0.0, (0, 0)), (1.0, 0.0, (40, -25)), (1.05, 0.0, (0, 0)), (0.96, 2.0, (18, 30))],
)
def test_every_corner_lands_where_it_came_from(sam, scale, turn_deg, shift):
    whole = scene()
    cx, cy = whole.width / 2, whole.height / 2
    cos, sin = np.cos(np.radians(turn_deg)) / scale, np.sin(np.radians(turn_deg)) / scale
    # Pillow asks, for each pixel of the new picture, where it lies in the old one.
    back = (
        cos, -sin, cx - cos * (cx + shift[0]) + sin * (cy + shift[1]),
        sin, cos, cy - sin * (cx + shift[0]) - cos * (cy + shift[1]),
    )  # fmt: skip
    moved = whole.transform(whole.size, Image.Transform.AFFINE, back, Image.Resampling.BICUBIC)
    found = laid_over(frame_of(sam, framed(whole)), frame_of(sam, framed(moved)))
    assert found["holds"]
    edge = 100
    for x, y in ((0, 0), (W, 0), (0, H), (W, H), (W / 2, H / 2)):
        u, v = x + edge, y + edge
        true = back[0] * u + back[1] * v + back[2], back[3] * u + back[4] * v + back[5]
        seen = lands(found["matrix"], x, y)
        assert np.hypot(seen[0] + edge - true[0], seen[1] + edge - true[1]) < 2.0


def test_a_second_frame_of_another_size_is_scaled(sam):
    whole = scene()
    small = framed(whole).resize((W // 2, H // 2))
    found = laid_over(frame_of(sam, framed(whole)), frame_of(sam, small))
    assert found["holds"]
    assert lands(found["matrix"], W / 2, H / 2) == pytest.approx((W, H), abs=2)


def test_two_things_are_not_laid_over_each_other(sam):
    found = laid_over(frame_of(sam, framed(scene(1))), frame_of(sam, framed(scene(2))))
    assert not found["holds"]
    assert "edge on edge" in found["words"]
    assert lands(found["matrix"], W, H) == pytest.approx((W, H))


def test_other_proportions_are_said(sam):
    found = laid_over(frame_of(sam, framed(scene())), frame_of(sam, framed(scene(), (600, 600))))
    assert not found["holds"]
    assert "proportions" in found["words"]


def test_it_is_looked_for_once(sam, monkeypatch):
    pair = frame_of(sam, framed(scene())), frame_of(sam, framed(scene()))
    first = laid_over(*pair)
    monkeypatch.setattr("shootlog.laid_over._look", None)
    assert laid_over(*pair) == first

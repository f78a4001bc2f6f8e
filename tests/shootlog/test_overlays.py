"""Drawings over a print: where they lie, what they say in words, and that they are asked for."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from django.urls import reverse

from shootlog import overlay_drawn
from shootlog.reading import Quantity, Reading
from shootlog.seen_in_words import lost_words, place_in_words, sharp_words
from tests.frames import make_frame as frame_with

PROVED = {"thin-depth": {"here": [4, 4, 20, 14], "good": [30, 20, 20, 14]}}


def maps(**marked):
    given = {name: np.zeros((20, 30), np.uint8) for name in ("sharp", "burnt", "black")}
    for name, (top, bottom, left, right) in marked.items():
        given[name][top:bottom, left:right] = 1 if name == "sharp" else 255
    return given


def points(svg):
    path = ET.fromstring(svg)[0][0].get("d")  # noqa: S314 - our own drawing
    return np.array(re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path), float)


def test_the_line_goes_round_what_is_sharp():
    svg = overlay_drawn.sharp_drawn(maps(sharp=(5, 15, 10, 20)), (6000, 4000))
    x, y = points(svg).T
    # in units of the drawing 1000 wide; a block is 1000 / 30 of them, the line lies within one
    assert (x.min(), x.max()) == pytest.approx((10 / 30 * 1000, 20 / 30 * 1000), abs=34)
    assert (y.min(), y.max()) == pytest.approx((5 / 20 * 667, 15 / 20 * 667), abs=34)


def test_ticks_point_inwards():
    svg = overlay_drawn.sharp_drawn(maps(sharp=(5, 15, 10, 20)), (600, 400))
    ticks = re.findall(r"M([\d.]+) ([\d.]+)l(-?[\d.]+) (-?[\d.]+)", svg)
    assert len(ticks) > 20
    middle = np.array([500.0, 333.0])
    for tick in ticks:
        x, y, across, down = map(float, tick)
        start = np.array([x, y])
        assert np.linalg.norm(start + (across, down) - middle) < np.linalg.norm(start - middle)


def test_lines_close_along_the_picture_s_rim_and_holes_have_their_own():
    given = maps(sharp=(0, 20, 0, 30))
    given["sharp"][8:12, 12:18] = 0
    svg = overlay_drawn.sharp_drawn(given, (600, 400))
    assert svg.count("Z") == 2
    x, y = points(svg).T
    assert (x.min(), x.max(), y.min(), y.max()) == pytest.approx((0, 1000, 0, 667), abs=12)


def test_burnt_and_black_are_told_apart_without_colour():
    svg = overlay_drawn.lost_drawn(maps(burnt=(0, 6, 0, 8), black=(14, 20, 20, 30)), (600, 400))
    rings = np.array(re.findall(r"M([\d.]+) ([\d.]+)a", svg), float)
    crosses = np.array(re.findall(r"M([\d.]+) ([\d.]+)l5.0 5.0", svg), float)
    assert len(rings) > 50
    assert len(crosses) > 50
    assert rings[:, 0].max() < 300 < 600 < crosses[:, 0].min()
    assert set(re.findall(r'stroke="(#\w+)"', svg)) == {"#1d1b18", "#fff"}


def test_nothing_to_draw_is_an_empty_drawing():
    for drawn in (overlay_drawn.sharp_drawn, overlay_drawn.lost_drawn):
        assert 'd=""' in drawn(maps(), (600, 400))
        assert 'd=""' in drawn({name: np.zeros((0, 0)) for name in maps()}, (600, 400))


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [(0.1, 0.5, "left of the middle"), (0.5, 0.5, "in the middle"), (1, 1, "at the bottom right")],
)
def test_places_have_names(x, y, words):
    assert place_in_words(x, y) == words


def test_the_drawings_are_said_in_words():
    assert sharp_words({"sharp_share": 0.06, "sharp_box": [0.1, 0.4, 0.1, 0.2]}) == (
        "The sharp part lies left of the middle, 6 % of the picture."
    )
    assert "can't be told" in sharp_words({"sharp_share": None})
    assert "Nothing" in sharp_words({"sharp_share": 0.0})
    lost = {
        "clipped_share": 0.02, "blocked_share": 0.0, "width_px": 900, "height_px": 600,
        "crops": {"burnt-highlights": {"here": [700, 10, 100, 80]}},
    }  # fmt: skip
    assert lost_words(lost) == "2 % of the picture is burnt out, seen best at the top right."
    assert lost_words(lost | {"clipped_share": 0.0}) == "Nothing is burnt out and nothing is black."


# --- on the page ---


@pytest.fixture
def proved(sam):
    """A frame that is too thin in depth, with its crops."""
    known = {"depth_of_field_mm": 0.34, "subject_depth_mm": 5.0, "magnification": 1.0}
    numbers = {name: Quantity.exactly(value, "told") for name, value in known.items()}
    evidence = {"crops": PROVED, "sharp_share": 0.06, "sharp_box": [0.1, 0.4, 0.1, 0.2]}
    frame = frame_with(sam, pictures=True, evidence=evidence | {"width_px": 60, "height_px": 40})
    frame.reading = Reading(numbers, {"crops": PROVED}).as_json()
    frame.save()
    return frame


def page_of(client, frame, query=""):
    return client.get(reverse("shootlog:frame", args=[frame.pk]) + query).text


@pytest.mark.django_db
def test_a_drawing_is_off_until_asked_and_comes_with_its_words(as_person, sam, proved):
    client = as_person(sam)
    plain = page_of(client, proved)
    assert 'class="over"' not in plain
    assert "?over=sharp" in plain
    asked = page_of(client, proved, "?over=sharp")
    assert f'<img class="over" src="/log/{proved.pk}/over/sharp.svg" alt="">' in asked
    assert "left of the middle, 6 % of the picture" in asked
    assert 'class="over"' not in page_of(client, proved, "?over=nonsense")
    drawing = client.get(f"/log/{proved.pk}/over/sharp.svg")
    assert drawing["Content-Type"] == "image/svg+xml"
    assert drawing.content.startswith(b"<svg")
    again = client.get(
        f"/log/{proved.pk}/over/sharp.svg", headers={"If-None-Match": drawing["ETag"]}
    )
    assert again.status_code == 304
    assert client.get(f"/log/{proved.pk}/over/nonsense.svg").status_code == 404


@pytest.mark.django_db
def test_a_frame_read_before_drawings_were_kept_offers_none(as_person, sam):
    frame = frame_with(sam, pictures=True, evidence={"crops": [{"what": "finest detail"}]})
    assert "over=" not in page_of(as_person(sam), frame, "?over=sharp")
    assert as_person(sam).get(f"/log/{frame.pk}/over/sharp.svg").status_code == 404


@pytest.mark.django_db
def test_the_owner_sees_what_proves_it_only_when_it_may_be_told(as_person, sam, course, proved):
    client = as_person(sam)
    held = page_of(client, proved)
    assert "told once you handed it in" in held
    assert "x=4&amp;y=4" not in held
    assert "over=crops" not in held
    course.advice_at_once = True
    course.save()
    told = page_of(client, proved, "?over=crops")
    assert "Here it is soft already," in told
    assert f"/log/{proved.pk}/crop?x=4&amp;y=4&amp;w=20&amp;h=14" in told
    assert "and here, where it is sharp." in told
    assert '<details class="proof" open>' in told
    assert told.count('class="edge"') == 2
    assert "<b>b</b> and here, where it is sharp." in told


@pytest.mark.django_db
def test_the_frame_page_asks_the_same_number_of_times_however_many_frames(
    as_person, sam, proved, django_assert_max_num_queries
):
    for _ in range(5):
        frame_with(sam, pictures=True)
    client = as_person(sam)
    page_of(client, proved)
    with django_assert_max_num_queries(20):
        page_of(client, proved)

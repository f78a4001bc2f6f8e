"""One's own past: hits of ten, the burst that gives one, how slow a hand can go.

The rows are made up so that the answer is known by counting; the advice is held to the table in
teaching.md 4.7, worked out there from 1 - (1 - p)^n.
"""

from datetime import date

import pytest

from shootlog.own_past import (
    Burst,
    HandFrame,
    advice,
    floors,
    floors_plot,
    hits_plot,
    hits_words,
)


def burst(hits, of, day=1):
    return Burst(pk=day, name="Ten on the eye", day=date(2026, 5, day), hits=hits, of=of)


@pytest.mark.parametrize(
    ("hits", "of", "frames"), [(1, 20, 45), (1, 10, 22), (2, 10, 11), (3, 10, 7), (5, 10, 4)]
)
def test_the_burst_that_nearly_always_gives_one(hits, of, frames):
    found = advice([burst(hits, of)])
    assert found.frames == frames
    assert found.chance >= 0.9
    assert 1 - (1 - hits / of) ** (frames - 1) < 0.9  # one fewer would not do


def test_the_formula_is_written_out_with_its_numbers():
    assert advice([burst(3, 10)]).formula == "1 − (1 − 3/10)^7 = 0.92"  # noqa: RUF001


def test_only_the_last_five_bursts_count():
    assert advice([burst(0, 10, k + 1) for k in range(5)] + [burst(5, 10, 9)] * 5).hits == 25


def test_without_a_hit_there_is_no_advice_and_without_a_burst_none_either():
    assert advice([burst(0, 10)]) is None
    assert advice([]) is None


def test_hits_of_a_burst_that_was_not_of_ten():
    assert hits_words(burst(3, 10)) == "3 of 10"
    assert hits_words(burst(3, 12)) == "3 of 12, which is 2.5 of ten"


def by_hand(time_s, held, count, magnification=1.0):
    return [
        HandFrame(exposure_s=time_s, magnification=magnification, smear_px=0.0 if k < held else 8.0)
        for k in range(count)
    ]


def test_the_slowest_time_that_held():
    rows = floors([*by_hand(1 / 250, 4, 4), *by_hand(1 / 125, 3, 4), *by_hand(1 / 60, 1, 4)])
    (row,) = rows
    assert row.band == "1:1 and closer"
    assert row.slowest.time == "1/125 s"
    assert [(s.time, s.held, s.of) for s in row.steps] == [
        ("1/250 s", 4, 4),
        ("1/125 s", 3, 4),
        ("1/60 s", 1, 4),
    ]


def test_a_lucky_slow_time_below_an_unsafe_one_proves_nothing():
    (row,) = floors([*by_hand(1 / 250, 3, 3), *by_hand(1 / 60, 0, 3), *by_hand(1 / 30, 3, 3)])
    assert row.slowest.time == "1/250 s"


def test_two_frames_say_nothing_and_unknown_ones_are_left_out():
    unknown = HandFrame(exposure_s=1 / 60, magnification=1.0, smear_px=None)
    (row,) = floors([*by_hand(1 / 60, 2, 2), unknown, unknown])
    assert row.slowest is None
    assert row.steps[0].of == 2
    assert floors([unknown, HandFrame(exposure_s=None, magnification=1.0, smear_px=0.0)]) == []


def test_a_hit_was_held_whatever_the_pixels_could_say():
    assert HandFrame(exposure_s=1, magnification=1, smear_px=None, hit=True).held is True
    assert HandFrame(exposure_s=1, magnification=1, smear_px=9.0, hit=True).held is False


def test_closeness_parts_the_times():
    rows = floors([*by_hand(1 / 60, 3, 3, 0.2), *by_hand(1 / 60, 0, 3, 1.2)])
    assert [(row.band, row.slowest is not None) for row in rows] == [
        ("farther than 1:4", True),
        ("1:1 and closer", False),
    ]


def test_the_drawings_show_what_the_tables_say():
    assert hits_plot([burst(3, 10)]) is None
    dots = hits_plot([burst(0, 10), burst(10, 10, 2), burst(5, 10, 3)])["dots"]
    assert dots[1]["y"] < dots[2]["y"] < dots[0]["y"]  # more hits stand higher
    assert abs(dots[0]["y"] + dots[1]["y"] - 2 * dots[2]["y"]) < 1e-9
    drawn = floors_plot(floors([*by_hand(1 / 250, 3, 3), *by_hand(1 / 30, 0, 3)]))
    assert [dot["held"] for dot in drawn["lines"][0]["dots"]] == [True, False]
    assert drawn["times"][0]["words"] == "1/250 s"  # faster on the left
    assert floors_plot([]) is None

"""Weeks by topics: the last hand-in counts, a week without one is not there."""

from course.progress import FADE_AFTER, Cell, Row, faded, weeks_by_topics


def row(week, topic, verdict, hand_in=1, exercise=1):
    return Row(week=week, topic=topic, verdict=verdict, hand_in=hand_in, exercise=exercise)


def test_the_reshoot_stands_for_the_first_try():
    rows = [row(2, "magnification", "not yet", 1), row(2, "magnification", "met", 5)]
    assert weeks_by_topics(rows) == [Cell(2, "magnification", "met")]


def test_one_row_not_yet_keeps_the_topic_open():
    rows = [row(2, "m", "met"), row(2, "m", "not yet"), row(2, "m", "can't tell")]
    assert weeks_by_topics(rows) == [Cell(2, "m", "not yet")]
    assert weeks_by_topics([*rows[:1], rows[2]]) == [Cell(2, "m", "can't tell")]


def test_a_missed_week_is_left_out():
    rows = [row(3, "b", "met", 2, 2), row(1, "a", "met", 1, 1)]
    assert [(c.week, c.topic) for c in weeks_by_topics(rows)] == [(1, "a"), (3, "b")]
    assert weeks_by_topics([]) == []


def test_a_hint_fades_after_it_was_met_three_times():
    rows = [row(k, "a", "met", k, k) for k in range(1, FADE_AFTER + 1)]
    assert faded(rows, "a")
    assert not faded(rows[:-1], "a")
    assert not faded(rows, "b")

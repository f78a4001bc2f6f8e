"""A brief asks a series: what was measured between the frames goes before what files say."""

from types import SimpleNamespace

from course.brief import SeriesFacts
from course.judging import known_better


def series(kind, **check):
    return SimpleNamespace(kind=kind, check_result=check)


def test_a_jump_of_light_no_file_tells_of_counts():
    facts = SeriesFacts(count=10, exposure_spread_ev=0.0)
    seen = series("stack", exposure_spread_ev=0.6, exposure_jumps=[[4, 5]])
    assert known_better(facts, seen).exposure_spread_ev == 0.6


def test_a_drift_of_the_content_is_no_change_of_exposure():
    facts = SeriesFacts(count=10, exposure_spread_ev=0.0)
    seen = series("stack", exposure_spread_ev=0.6, exposure_jumps=[])
    assert known_better(facts, seen).exposure_spread_ev == 0.0


def test_dials_that_moved_still_count():
    facts = SeriesFacts(count=10, exposure_spread_ev=1.0)
    seen = series("stack", exposure_spread_ev=0.1, exposure_jumps=[])
    assert known_better(facts, seen).exposure_spread_ev == 1.0


def test_steps_measured_in_the_pictures_go_before_distances():
    facts = SeriesFacts(count=3, magnification_step=None)
    assert known_better(facts, series("approach", scale_steps=[1.6, 1.5])).magnification_step == 1.5
    assert known_better(facts, series("approach", scale_steps=[1.6, None])) == facts


def test_a_study_of_light_is_held_to_its_dials():
    facts = SeriesFacts(count=4, exposure_spread_ev=0.0)
    seen = series("light", exposure_spread_ev=2.0, exposure_jumps=[[1, 2]])
    assert known_better(facts, seen) == facts


def test_without_a_check_nothing_changes():
    facts = SeriesFacts(count=2)
    assert known_better(facts, None) is facts
    assert known_better(facts, SimpleNamespace(kind="stack", check_result=None)) is facts

"""Gathers what `course.telling` decides from: the week, the exercise, what was said before."""

from collections import Counter
from dataclasses import dataclass, field, replace

from django.urls import reverse

from course.judging import limits_for
from course.marks_shown import marks_shown
from course.models import Crit, Group, Lesson
from course.progress import faded_topics
from course.progress_of import hand_ins_of, rows_of
from course.telling import WAIVED_IN, House, Told, held_because, tell
from shootlog.findings import examine
from shootlog.models import Flag, Frame
from shootlog.reading import Reading
from shootlog.series_shown import series_block
from shootlog.shown import first_rows


@dataclass(frozen=True)
class Print:
    """One frame of a hand-in with everything its page says."""

    frame: Frame
    reading: Reading | None
    told: Told
    rows: list
    marks: list = field(default_factory=list)
    faded: frozenset = frozenset()  # topics whose hints wait to be asked for


def prints_for_instructor(hand_in, *, points=None):
    """Every frame of a hand-in with all that stands and why some of it is held."""
    return _prints(hand_in, (points or {}).get("main", ""))


def prints_for_student(hand_in):
    """Facts and file trouble at once; advice once a crit is released, or at once if so set."""
    crits = hand_in.released_crits
    released = bool(crits) or hand_in.exercise.week.course.advice_at_once
    chosen = next((c.points.get("main", "") for c in reversed(crits) if c.points.get("main")), "")
    marks = marks_shown(crits)
    faded = _faded_for(hand_in)
    return [
        replace(
            p,
            told=p.told.for_student(released=released),
            marks=marks.get(p.frame.pk, []),
            faded=faded,
        )
        for p in _prints(hand_in, chosen)
    ]


def _faded_for(hand_in):
    """Topics met often before; nothing fades for who asked for stronger words."""
    person = getattr(hand_in.student, "person", None)
    if person and person.wants_stronger_words:
        return frozenset()
    before = hand_ins_of(hand_in.student, hand_in.group)
    return frozenset(faded_topics(rows_of(h for h in before if h.pk != hand_in.pk)))


def series_for_instructor(hand_in):
    """The frames of a hand-in as one, or nothing; with what waits and what was set aside."""
    return _series(
        hand_in,
        advice=True,
        not_so=lambda slug: reverse("course:not-so-series", args=[hand_in.pk, slug]),
    )


def series_for_student(hand_in):
    """The same: facts at once, what to try when the crit is released or the course says so."""
    released = bool(hand_in.released_crits) or hand_in.exercise.week.course.advice_at_once
    return _series(hand_in, advice=released)


def _series(hand_in, **told):
    if hand_in.series_id is None:
        return None
    house = house_of(hand_in)
    return series_block(
        hand_in.series,
        thumb=lambda frame_pk: reverse("course:print-thumb", args=[hand_in.pk, frame_pk]),
        proof_url=reverse("course:print-proof", args=[hand_in.pk]),
        waived=hand_in.exercise.waived,
        why_held=lambda slug, topic: held_because(slug, topic, house),
        **told,
    )


def held_for(user):
    """Return what says why a finding waits for a student, whatever it was handed in for."""
    house = house_for(user)
    return lambda slug, topic: held_because(slug, topic, house)


def house_for(user):
    """What decides of a student's frames outside any hand-in.

    A topic waits where some group of theirs has it still to come and none has had it.
    """
    later, had = set(), set()
    for group in Group.objects.taken_by(user).select_related("course"):
        topics = _topics_by_week(group.course_id)
        ahead = _later_topics(topics, group.week_now) if group.course.weeks_gate_findings else set()
        later |= ahead
        had |= set().union(*topics.values()) - ahead
    return House(later=later - had, silent=Flag.objects.silent())


def _prints(hand_in, chosen):
    house = house_of(hand_in)
    limits = limits_for(hand_in.exercise)
    prints = []
    for frame in hand_in.frames_in_order():
        reading = frame.what_was_read
        outcomes = examine(reading, limits=limits) if reading else []
        told = tell(outcomes, house, set_aside=_set_aside(frame), chosen=chosen)
        prints.append(Print(frame, reading, told, first_rows(reading) if reading else []))
    return prints


def house_of(hand_in):
    exercise = hand_in.exercise
    topics = _topics_by_week(exercise.week.course_id)
    gates = exercise.week.course.weeks_gate_findings
    return House(
        later=_later_topics(topics, hand_in.group.week_now) if gates else (),
        waived=[*exercise.waived, *WAIVED_IN.get(exercise.kind, ())],
        silent=Flag.objects.silent(),
        said_before=_said_before(hand_in),
        brief=topics.get(exercise.week.number, ()),
    )


def _topics_by_week(course_id):
    topics = {}
    lessons = Lesson.objects.filter(week__course=course_id)
    for number, taught in lessons.values_list("week__number", "topics"):
        topics.setdefault(number, set()).update(taught)
    return topics


def _later_topics(topics, now):
    """Topics taught in a week to come and in none before it; unlisted topics never wait."""
    taught = set().union(*(each for number, each in topics.items() if number <= now))
    return set().union(*topics.values()) - taught


def _said_before(hand_in):
    points = (
        Crit.objects.released()
        .filter(hand_in__student=hand_in.student_id)
        .exclude(hand_in=hand_in.pk)
        .values_list("points", flat=True)
    )
    return Counter(p["main"] for p in points if p.get("main"))


def _set_aside(frame):
    return {flag.finding for flag in frame.flags.all() if flag.set_aside_at}

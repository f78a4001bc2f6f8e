"""The invented group of the demo: its people, set-ups, meetings, frames and what was said.

Everything goes in by the doors that people use: `receive` for files, `hand_in` for hand-ins, the
crit's own verbs for what was said. What the files are is told in fixtures/demo/README.md.
"""

import tomllib
from collections import defaultdict
from datetime import datetime, time, timedelta
from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from course import carry
from course.archive import read_archive
from course.marks import annotations
from course.marks_shown import source_of
from course.models import Enrolment, Exercise, Group, HandIn, Meeting, Person, Teaching
from shootlog.intake.receive import receive
from shootlog.models import Camera, KeptSetUp, KitItem
from shootlog.models.kept_set_up import TOLD
from shootlog.series_job import put_together
from shootlog.sharp_place import around
from shootlog.wording import ratio

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "demo"
PASSWORD = "small things slowly"  # noqa: S105 - an invented group on the loopback address
THURSDAY = 3  # as `date.weekday` counts
WEEK_NOW = 7


def load(say):
    """Make the group once; return its people as (name, role, signs in as)."""
    told = tomllib.loads((FOLDER / "people.toml").read_text())
    if not Group.objects.filter(name=told["group"]["name"]).exists():
        with transaction.atomic():
            people = _people(told)
            group, exercises = _course(told, people)
            set_ups = _set_ups(told, people)
        say("The course and its people are here; taking in their frames.")
        brought = tomllib.loads((FOLDER / "frames" / "index.toml").read_text())["frame"]
        frames = _frames(brought, people, set_ups)
        for user in people.values():
            KitItem.objects.bring_from_set_ups(user)
        hand_ins = _hand_ins(brought, frames, people, group, exercises)
        _crits(hand_ins, people, frames)
        say(f"{len(frames)} frames, {HandIn.objects.count()} hand-ins.")
    return [(p["name"], p["role"], p["key"]) for p in told["person"]]


def _people(told):
    people = {}
    for row in told["person"]:
        user = User.objects.create_user(row["key"], password=PASSWORD)
        teaches = row["role"] == "instructor"
        Person.objects.create(user=user, display_name=row["name"], may_teach=teaches)
        people[row["key"]] = user
    return people


def _course(told, people):
    """Load the shipped course, led by the instructor, with its group and meetings."""
    by_role = defaultdict(list)
    for row in told["person"]:
        by_role[row["role"]].append(people[row["key"]])
    text = read_archive(carry.files_of_folder(FOLDER / "course"))
    course = carry.load(text, owner=by_role["instructor"][0])
    for user in by_role["assistant"]:
        Teaching.objects.create(course=course, user=user, role=Teaching.ASSISTANT)
    group = Group.objects.create(
        course=course,
        name=told["group"]["name"],
        place=told["group"]["place"],
        week_now=WEEK_NOW,
        starts_on=timezone.localdate() - timedelta(weeks=WEEK_NOW - 1),
    )
    Enrolment.objects.bulk_create(Enrolment(group=group, user=u) for u in by_role["student"])
    _meetings(group)
    made = Exercise.objects.filter(week__course=course).select_related("week")
    found = {(e.week.number, e.title): e for e in made}
    exercises = {
        exercise.key: found[number, exercise.title]
        for number, week in enumerate(text.weeks, start=1)
        for exercise in week.exercises
    }
    return group, exercises


def _meetings(group):
    """One a week, the coming one on the next Thursday, so that there is something to prepare."""
    today = timezone.localdate()
    coming = today + timedelta(days=(THURSDAY - today.weekday() - 1) % 7 + 1)
    weeks = {week.number: week for week in group.course.weeks.all()}
    for number, week in weeks.items():
        field = number == 6
        day = coming + timedelta(weeks=number - WEEK_NOW)
        start, end = (time(6), time(10)) if field else (time(18, 30), time(20, 30))
        Meeting.objects.create(
            group=group,
            week=week,
            kind="field" if field else "evening",
            starts_at=timezone.make_aware(datetime.combine(day, start)),
            ends_at=timezone.make_aware(datetime.combine(day, end)),
            place="the allotment bank" if field else group.place,
        )


def _set_ups(told, people):
    for row in told["camera"]:
        Camera.objects.create(
            owner=people[row["owner"]],
            make=row["make"],
            model=row["model"],
            serial=row.get("serial", ""),
            clock_offset_s=-60 * row["clock_ahead_min"],
        )
    set_ups = {}
    for row in told["set_up"]:
        known = {key: row[key] for key in TOLD if key in row}
        name = f"{row['body']}, {row['lens']}"[:120]
        set_ups[row["key"]] = KeptSetUp.objects.create(
            owner=people[row["owner"]], name=name, **known
        )
    return set_ups


def _frames(brought, people, set_ups):
    frames = {}
    companions = tomllib.loads((FOLDER / "companions.toml").read_text())
    for row in brought:
        set_up = _at_its_ring_mark(set_ups.get(row.get("set_up", "")), row)
        with (FOLDER / "frames" / row["file"]).open("rb") as file:
            frame, _ = receive(file, owner=people[row["student"]], name=row["file"], set_up=set_up)
        told = {key.removeprefix("told_"): v for key, v in row.items() if key.startswith("told_")}
        for key in ("support", "subject_depth_mm"):
            if row.get(key):
                told[key] = row[key]
        if row["file"] in companions.get(row["student"], ()):
            told["companion"] = True
        frame.told, point = told, row.get("wanted_point")
        frame.wanted_area = around(*point) if point else None
        frame.save(update_fields=["told", "wanted_area"])
        frames[row["file"]] = frame
    return frames


def _at_its_ring_mark(set_up, row):
    """The same kit with the ring at this frame's mark, as its owner would have told it.

    A phone has no ring, and a frame taken for nobody's exercise was told nothing.
    """
    size = row["true"].get("magnification")
    if set_up is None or not size or not row["exercise"] or "phone" in row["set_up"]:
        return set_up
    kept, _ = KeptSetUp.objects.get_or_create(
        owner=set_up.owner,
        name=f"{set_up.name}, ring at {ratio(size)}"[:120],
        defaults={key: getattr(set_up, key) for key in TOLD} | {"ring_magnification": size},
    )
    return kept


def _hand_ins(brought, frames, people, group, exercises):
    """Put the frames forward, a series as one; the last week's are waiting."""
    together = defaultdict(list)
    for row in brought:
        if row["exercise"]:
            together[row.get("series") or row["file"]].append(row)
    hand_ins = {}
    for rows in together.values():
        first = rows[0]
        exercise = exercises[first["exercise"]]
        those = [frames[row["file"]] for row in rows]
        student = people[first["student"]]
        series = None
        if len(rows) > 1 and exercise.is_series:
            series = put_together(
                owner=student,
                kind=exercise.kind,
                frames=those,
                name=exercise.title,
                **exercise.told_of_series(),
            )
        hand_in = HandIn.objects.hand_in(
            exercise=exercise,
            group=group,
            student=student,
            frames=those,
            series=series,
            wanted=first.get("wanted", ""),
            unsure=first.get("unsure", ""),
            reshoot_of=hand_ins.get(first.get("reshoot_of", "")),
            may_be_projected=True,
            handed_in_at=_when(first),
        )
        hand_ins |= {row["file"]: hand_in for row in rows}
    return hand_ins


def _when(row):
    """As many days before today as the frame lies before the last week's end."""
    weeks_ago = WEEK_NOW - row["week"]
    return timezone.now() - timedelta(weeks=weeks_ago, hours=3, minutes=len(row["file"]))


def _crits(hand_ins, people, frames):
    """Say what the instructor said; the rest waits on the table."""
    said = tomllib.loads((FOLDER / "crits.toml").read_text())["crit"]
    for row in said:
        hand_in = hand_ins[row["file"]]
        by = people[row["by"]]
        crit = hand_in.crit_by(by)
        frame = frames[row["file"]]
        marks = [mark | {"frame": frame.pk} for mark in row.get("marks", [])]
        sources = {place.frame_id: source_of(place.frame_id) for place in hand_in.places.all()}
        crit.save_said(
            revision=crit.revision,
            words=row["words"],
            one_thing=row.get("one_thing", ""),
            marks=annotations(marks, sources=sources),
            points={"main": row["say_first"]} if "say_first" in row else {},
        )
        decide = {
            "kept": hand_in.keep,
            "talked through": hand_in.talk_through,
            "reshoot asked": lambda by, h=hand_in, r=row: h.ask_reshoot(
                by=by, one_thing=r["one_thing"]
            ),
        }
        decide[row["decision"]](by=by)
        if row.get("released", True):
            hand_in.release(by=by)
    _freshen(HandIn.objects.filter(state=HandIn.State.WAITING))


def _freshen(waiting):
    """What waits came in today and yesterday, but for the one that has waited too long."""
    for k, hand_in in enumerate(waiting.order_by("pk")):
        if k:
            hand_in.handed_in_at = timezone.now() - timedelta(minutes=95 * k)
            hand_in.save(update_fields=["handed_in_at"])

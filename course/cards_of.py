"""Field cards of a group, gathered in a fixed number of queries however many people it has."""

from collections import defaultdict
from datetime import timedelta

from django.utils import timezone

from course.field_card import (
    Card,
    cautions_block,
    exercise_block,
    meeting_block,
    numbers_block,
    subject_words,
)
from course.models import Exercise, Meeting
from shootlog.models import KeptPlan, KeptSetUp
from shootlog.wording import figures

MOST_SET_UPS = 2  # the one used last, and the one before
MOST_PLANS = 2
PLANS_OF = timedelta(days=14)


def cards_of(group, people, address_of):
    """Return one card a person; `address_of` makes the full address of an exercise or a group."""
    exercises = list(Exercise.objects.of_week_now(group))
    shared = _shared(group, exercises)
    set_ups, plans = _set_ups(people), _plans(people)
    depth_mm = next((e.subject_depth_mm for e in exercises if e.subject_depth_mm), None)
    now = timezone.localtime()
    title = str(exercises[0].week) if exercises else f"Week {group.week_now}"
    return [
        Card(
            title=title,
            person=f"{_name(person)} · {group.name}",
            made_at=now,
            blocks=[
                *shared["before"],
                numbers_block(set_ups[person.pk], depth_mm, plans[person.pk]),
                *shared["after"],
            ],
            address=address_of(exercises[0] if exercises else None),
        )
        for person in people
    ]


def _shared(group, exercises):
    """What everyone's card says."""
    briefs = [
        exercise_block(
            exercise.title,
            exercise.text,
            [row.in_words for row in exercise.criteria.all()],
            subject_words(exercise.subject_width_mm, exercise.subject_depth_mm),
        )
        for exercise in exercises
    ]
    after = []
    coming = Meeting.objects.filter(group=group.pk, ends_at__gte=timezone.now())
    meeting = coming.order_by("starts_at").first()
    if meeting is not None:
        starts = timezone.localtime(meeting.starts_at)
        after.append(
            meeting_block(
                f"{starts:%A} {starts.day} {starts:%B, %H:%M}",
                meeting.place,
                tide=meeting.tide,
                sun=meeting.sun,
                wind=meeting.wind,
                safety=meeting.safety,
            )
        )
    mind = cautions_block([exercise.cautions for exercise in exercises])
    return {"before": briefs, "after": [*after, mind] if mind else after}


def _set_ups(people):
    found = defaultdict(list)
    rows = KeptSetUp.objects.filter(owner__in=people, retired_at=None)
    for row in rows.order_by("-last_used_at", "-pk"):
        if len(found[row.owner_id]) < MOST_SET_UPS:
            found[row.owner_id].append((row.name, row.as_set_up(), row.best_f_number))
    return found


def _plans(people):
    found = defaultdict(list)
    for plan in KeptPlan.objects.filter(
        owner__in=people, made_at__gte=timezone.now() - PLANS_OF, series=None
    ):
        if len(found[plan.owner_id]) < MOST_PLANS:
            found[plan.owner_id].append((plan.name, _plan_words(plan.found)))
    return found


def _plan_words(found):
    frames = f"{found.get('frames')} frames"
    if found.get("step_mm"):
        return f"{frames} by {found.get('way')}, step {figures(found['step_mm'])} mm."
    distances = ", ".join(f"{figures(d)} m" for d in found.get("distances_m", [])[:12])
    return f"{frames}, focus at {distances}."


def _name(user):
    person = getattr(user, "person", None)
    return person.display_name if person else user.get_username()

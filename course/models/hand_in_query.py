"""The questions asked of hand-ins, each named for the page it feeds."""

from django.db import models, transaction
from django.db.models import Case, Exists, OuterRef, Q, Subquery, Value, When
from django.utils import timezone

from course.judging import verdicts_of
from course.models.course import Teaching
from course.models.crit import Crit
from course.models.group import Meeting
from course.needs import Need
from shootlog.file_trouble import file_trouble_slugs
from shootlog.jobs import work_out_frame
from shootlog.models import Flag, Frame, Series

UNREAD = (Frame.State.WAITING, Frame.State.READING)


class HandInQuerySet(models.QuerySet):
    def standing(self):
        return self.filter(withdrawn_at=None)

    def handed_in_by(self, user):
        return self.filter(student=user)

    def reviewable_by(self, user):
        """Hand-ins to courses this person teaches or helps with."""
        return self.filter(exercise__week__course__in=_courses_taught_by(user))

    def visible_to(self, user):
        """Own hand-ins, those one may review, and what was shared with one's group."""
        shared = (
            Q(
                shared_with_group=True,
                withdrawn_at=None,
                group__enrolments__user=user,
                group__enrolments__left_at=None,
            )
            & ~_with_people_not_asked()
        )
        taught = Q(withdrawn_at=None, exercise__week__course__in=_courses_taught_by(user))
        return self.filter(Q(student=user) | taught | shared).distinct()

    def come_back(self):
        """Hand-ins with a released crit, newest first; `told` was decided, `one_thing` asked."""
        told = (
            Crit.objects.released()
            .filter(hand_in=OuterRef("pk"))
            .exclude(decision="")
            .order_by("-made_at")
        )
        return (
            self.standing()
            .filter(crits__released_at__isnull=False)
            .annotate(back_at=models.Max("crits__released_at"))
            .annotate(told=Subquery(told.values("decision")[:1]))
            .annotate(one_thing=Subquery(told.values("one_thing")[:1]))
            .select_related("exercise")
            .order_by("-back_at")
        )

    def waiting_for_a_word(self):
        return (
            self.exclude(crits__released_at__isnull=False)
            .select_related("exercise")
            .order_by("-handed_in_at")
        )

    def projectable_in(self, group):
        """Prints whose makers said yes to the projector."""
        asked = self.standing().filter(group=group, may_be_projected=True)
        return asked.exclude(_with_people_not_asked())

    # -- the instructor's table -------------------------------------------------------------

    def to_look_at(self, user):
        """What needs this person, the most needed first; `need` says why (course.needs)."""
        unreleased = Crit.objects.filter(author=user, released_at=None).exclude(decision="")
        return (
            self.reviewable_by(user)
            .standing()
            .filter(pk__in=self._waiting().union(unreleased.values("hand_in")))
            .annotate(need=_need())
            .order_by("need", "handed_in_at", "pk")
        )

    def waiting(self):
        """Nothing was decided yet. What was decided in all the years before is never touched."""
        return self.filter(pk__in=self._waiting())

    def _waiting(self):
        return self.model.objects.filter(state="waiting", withdrawn_at=None).values("pk")

    def matching(self, *, group=None, exercise=None, student=None, finding="", nothing_said=False):
        """The table's filters; what is not given does not narrow."""
        found = self
        for name, value in (("group", group), ("exercise", exercise), ("student", student)):
            if value:
                found = found.filter(**{name: value})
        if finding:
            flags = Flag.objects.standing().filter(finding=finding)
            of_frames = flags.filter(frame__hand_in_places__hand_in=OuterRef("pk"))
            found = found.filter(_either(of_frames, flags.filter(series__hand_ins=OuterRef("pk"))))
        if nothing_said:
            said = Crit.objects.said_something().filter(hand_in=OuterRef("pk"))
            found = found.filter(~Exists(said), state="waiting")
        return found

    def for_table(self):
        """Everything a row of the table shows, in a constant number of queries."""
        return (
            self.select_related(
                "exercise__week__course", "group", "student__person", "reshoot_of", "series"
            )
            .defer("series__check_result")
            .prefetch_related("places__frame__flags", "series__flags")
        )

    def for_print(self):
        """Everything a print's page shows."""
        return self.select_related(
            "exercise__week__course", "group", "student__person", "reshoot_of", "series"
        ).prefetch_related(
            "places__frame__flags",
            "places__frame__camera",
            "places__frame__set_up",
            "series__places__frame",
            "series__flags",
            "crits__author__person",
            "exercise__criteria",
        )

    def unjudged(self):
        """Fully read, but the brief was not asked yet, or not since the last reading."""
        places = Frame.objects.filter(hand_in_places__hand_in=OuterRef("pk"))
        read_since = places.filter(read_at__gt=OuterRef("judged_at"))
        series_waits = Series.objects.filter(
            pk=OuterRef("series"), confirmed=True, state__in=UNREAD
        )
        return self.filter(~Exists(places.filter(state__in=UNREAD)), ~Exists(series_waits)).filter(
            Q(judged_at=None) | Exists(read_since)
        )

    def judge(self):
        """Ask the brief of every hand-in that was read since it was last asked."""
        rows = list(
            self.unjudged()
            .select_related("exercise__week__course", "series")
            .prefetch_related("exercise__criteria", "places__frame")
        )
        for row in rows:
            row.verdicts = verdicts_of(row)
            row.cannot_tell = any(v["verdict"] == "can't tell" for v in row.verdicts)
            row.judged_at = timezone.now()
        self.model.objects.bulk_update(rows, ["verdicts", "cannot_tell", "judged_at"], 200)
        return len(rows)

    def forget_verdicts(self):
        """A frame went: what the brief said with it goes too, and the brief is asked anew."""
        return self.update(verdicts=None, cannot_tell=False, judged_at=None)

    def same_again(self, *, exercise, student, frames):
        """A standing hand-in of exactly these frames, as a form sent twice makes it; or None."""
        wanted = {frame.pk for frame in frames}
        rows = self.standing().filter(exercise=exercise, student=student, frames__in=wanted)
        for row in rows.distinct().prefetch_related("places"):
            if {place.frame_id for place in row.places.all()} == wanted:
                return row
        return None

    @transaction.atomic
    def hand_in(self, *, exercise, group, student, frames, **said):
        """Put frames forward for an exercise, in the order given."""
        row = self.create(exercise=exercise, group=group, student=student, **said)
        place = row.places.model
        place.objects.bulk_create(
            place(hand_in=row, frame=frame, position=k) for k, frame in enumerate(frames)
        )
        for frame in frames:
            _tell_what_the_brief_says(frame, exercise)
        return row


def _tell_what_the_brief_says(frame, exercise):
    """The brief's depth and print width count for a frame whose owner told none."""
    asked = {key: getattr(exercise, key) for key in ("subject_depth_mm", "finished_width_mm")}
    new = {key: value for key, value in asked.items() if value and not frame.told.get(key)}
    if not new:
        return
    frame.told = {**frame.told, **new}
    frame.save(update_fields=["told"])
    if frame.is_settled:
        work_out_frame(frame)  # from what is stored; no pixel is read again


def _with_people_not_asked():
    """A hand-in with a frame that shows somebody who was not asked is not for the group."""
    places = Frame.objects.filter(hand_in_places__hand_in=OuterRef("pk"))
    return Q(Exists(places.filter(people_in_it="not asked")))


def _courses_taught_by(user):
    return Teaching.objects.filter(user=user).values("course")


def _either(one, other):
    return Q(Exists(one)) | Q(Exists(other))


def _need():
    """One CASE, so that the order is the database's own and the table can be paged."""
    frames = Frame.objects.filter(hand_in_places__hand_in=OuterRef("pk"))
    flags = Flag.objects.standing().filter(frame__hand_in_places__hand_in=OuterRef("pk"))
    of_series = Flag.objects.standing().filter(series__hand_ins=OuterRef("pk"))
    met_since = Meeting.objects.filter(
        group=OuterRef("group"),
        starts_at__gt=OuterRef("handed_in_at"),
        starts_at__lt=timezone.now(),
    )
    because = [
        (~Q(state="waiting"), Need.RELEASE),
        (Exists(met_since), Need.CLASS_PASSED),
        (~Q(unsure=""), Need.ASKED),
        (Q(reshoot_of__isnull=False), Need.PAIR),
        (Exists(frames.filter(state=Frame.State.UNREADABLE)), Need.UNREADABLE),
        (Exists(frames.filter(state__in=UNREAD)), Need.BEING_READ),
        (Exists(flags.filter(finding__in=file_trouble_slugs())), Need.FILE),
        (Q(cannot_tell=True), Need.CANNOT_TELL),
        (_either(flags.filter(sure="likely"), of_series.filter(sure="likely")), Need.PLEASE_CHECK),
        (_either(flags, of_series), Need.FLAGGED),
    ]
    return Case(
        *(When(condition, then=Value(need.value)) for condition, need in because),
        default=Value(Need.A_WORD.value),
        output_field=models.PositiveSmallIntegerField(),
    )

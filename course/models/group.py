from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

from course.models.digest import Digest


class GroupQuerySet(models.QuerySet):
    def taught_by(self, user):
        return self.filter(course__teachings__user=user).distinct()

    def led_by(self, user):
        return self.filter(
            course__teachings__user=user, course__teachings__role="instructor"
        ).distinct()

    def taken_by(self, user):
        return self.filter(enrolments__user=user, enrolments__left_at=None).distinct()

    def that_gets(self, exercise, user):
        """The group this person's hand-in for an exercise goes to: the newest of its course."""
        return self.taken_by(user).filter(course=exercise.week.course_id).latest("pk")

    def visible_to(self, user):
        return self.filter(
            models.Q(course__teachings__user=user)
            | models.Q(enrolments__user=user, enrolments__left_at=None)
        ).distinct()


class Group(models.Model):
    """The people taking a course on its dates."""

    course = models.ForeignKey("course.Course", on_delete=models.CASCADE, related_name="groups")
    name = models.CharField(max_length=120)
    starts_on = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=120, blank=True)
    week_now = models.PositiveSmallIntegerField(
        default=1, help_text="The week being taught; topics of later weeks wait."
    )
    week_opened_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = GroupQuerySet.as_manager()

    def __str__(self):
        return self.name

    @transaction.atomic
    def week_has_opened(self):
        """Note that another week is taught from now on, and let the group's people hear of it."""
        self.week_opened_at = timezone.now()
        self.save(update_fields=["week_opened_at"])
        people = self.enrolments.filter(left_at=None).select_related("user__person")
        for enrolment in people:
            Digest.objects.ask_for(enrolment.user)


class Enrolment(models.Model):
    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="enrolments")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="enrolments"
    )
    joined_at = models.DateTimeField(default=timezone.now)
    left_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["group", "user"], name="once_in_a_group")]

    def __str__(self):
        return f"{self.user} in {self.group}"

    def leave(self):
        self.left_at = timezone.now()
        self.save(update_fields=["left_at"])


class Meeting(models.Model):
    """One class or field morning."""

    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="meetings")
    week = models.ForeignKey(
        "course.Week", null=True, blank=True, on_delete=models.SET_NULL, related_name="meetings"
    )
    kind = models.CharField(
        max_length=8,
        default="evening",
        choices=[("evening", "evening"), ("field", "field morning")],
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    place = models.CharField(max_length=160, blank=True)
    notes = models.TextField(blank=True)
    safety = models.TextField(blank=True)
    tide = models.CharField(max_length=160, blank=True)
    sun = models.CharField(max_length=160, blank=True)
    wind = models.CharField(max_length=160, blank=True)
    shown = models.TextField(blank=True)  # what was demonstrated

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ends_at__gt=models.F("starts_at")),
                name="a_meeting_ends_after_it_starts",
            )
        ]

    def __str__(self):
        return f"{self.group} {self.starts_at:%Y-%m-%d}"

    @transaction.atomic
    def count_heads(self, here):
        """Note who of the group was here; only people of the group are counted."""
        people = set(self.group.enrolments.filter(left_at=None).values_list("user_id", flat=True))
        known = {row.user_id: row for row in self.attendances.filter(user__in=people)}
        for row in known.values():
            row.came = row.user_id in here
        Attendance.objects.bulk_update(known.values(), ["came"])
        Attendance.objects.bulk_create(
            Attendance(meeting=self, user_id=pk, came=pk in here) for pk in people - set(known)
        )


class Attendance(models.Model):
    meeting = models.ForeignKey(Meeting, on_delete=models.CASCADE, related_name="attendances")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="attendances"
    )
    coming = models.BooleanField(null=True, blank=True)
    came = models.BooleanField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["meeting", "user"], name="one_answer_per_meeting")
        ]

    def __str__(self):
        return f"{self.user} {self.meeting}"

from django.db import models

from course.brief_rows import Criterion as Row
from course.models.in_week import InWeek, open_to


class ExerciseQuerySet(models.QuerySet):
    def led_by(self, user):
        return self.filter(
            week__course__teachings__user=user, week__course__teachings__role="instructor"
        ).distinct()

    def taught_by(self, user):
        return self.filter(week__course__teachings__user=user).distinct()

    def taken_by(self, user):
        """What a student may see: nothing that is hidden until a later week of their group."""
        return self.filter(open_to(user)).distinct()

    def visible_to(self, user):
        return self.filter(
            models.Q(pk__in=self.model.objects.taught_by(user).values("pk"))
            | models.Q(pk__in=self.model.objects.taken_by(user).values("pk"))
        )

    def in_place(self):
        return self.order_by("position", "pk")

    def of_week_now(self, group):
        """The exercises of a group's week, with their briefs."""
        return (
            self.filter(
                week__course=group.course_id,
                week__number=group.week_now,
            )
            .select_related("week")
            .prefetch_related("criteria")
        )


class Exercise(InWeek):
    class Kind(models.TextChoices):
        SINGLE = "single", "single frame"
        STACK = "stack", "stack"
        APERTURES = "apertures", "aperture series"
        LIGHT = "light", "light study"
        APPROACH = "approach", "approach"
        BURST = "burst", "burst"
        LADDER = "ladder", "gear ladder"
        LANDSCAPE = "landscape", "few-frame landscape stack"

    week = models.ForeignKey("course.Week", on_delete=models.CASCADE, related_name="exercises")
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.SINGLE)
    title = models.CharField(max_length=120)
    text = models.TextField(blank=True)  # the brief in words; Markdown
    indoor_twin = models.TextField(blank=True)
    from_a_chair = models.TextField(blank=True)
    cautions = models.TextField(blank=True)
    in_the_field = models.BooleanField(default=False)  # asks the three welfare ticks
    self_check = models.BooleanField(default=False)
    subject_width_mm = models.FloatField(null=True, blank=True)
    subject_depth_mm = models.FloatField(null=True, blank=True)
    finished_width_mm = models.FloatField(
        null=True, blank=True, help_text="Width of the print for which sharpness is judged."
    )
    #: findings this exercise does not raise (in an aperture series f/22 is the point)
    waived = models.JSONField(default=list, blank=True)
    limits = models.JSONField(default=dict, blank=True)

    objects = ExerciseQuerySet.as_manager()

    class Meta:
        ordering = ["week__number", "position", "pk"]

    def __str__(self):
        return self.title

    @property
    def is_series(self):
        return self.kind != self.Kind.SINGLE

    def told_of_series(self):
        """What the brief says to the check of a series: the factor of each step, the depth."""
        steps = [row.low for row in self.criteria.all() if row.quantity == "magnification_step"]
        told = {
            "factor": next((low for low in steps if low), None),
            "subject_depth_mm": self.subject_depth_mm,
        }
        return {key: value for key, value in told.items() if value is not None}


class Criterion(models.Model):
    """One row of a brief: a quantity between low and high, or a need."""

    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="criteria")
    kind = models.CharField(max_length=8, choices=[("quantity", "quantity"), ("need", "need")])
    quantity = models.CharField(max_length=40, blank=True)
    low = models.FloatField(null=True, blank=True)
    high = models.FloatField(null=True, blank=True)
    need = models.CharField(max_length=40, blank=True)
    words = models.CharField(max_length=200, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        verbose_name_plural = "criteria"

    def __str__(self):
        return self.in_words

    def as_row(self):
        """The plain row that `course.brief.judge` takes."""
        return Row(
            kind=self.kind,
            quantity=self.quantity,
            low=self.low,
            high=self.high,
            need=self.need,
            words=self.words,
        )

    @property
    def in_words(self):
        return self.as_row().said

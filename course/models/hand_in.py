from django.conf import settings
from django.db import models
from django.utils import timezone


class HandInQuerySet(models.QuerySet):
    def standing(self):
        return self.filter(withdrawn_at=None)

    def handed_in_by(self, user):
        return self.filter(student=user)

    def come_back(self):
        """Hand-ins with a released crit, the newest word first."""
        return (
            self.standing()
            .filter(crits__released_at__isnull=False)
            .annotate(back_at=models.Max("crits__released_at"))
            .select_related("exercise")
            .order_by("-back_at")
        )

    def waiting_for_a_word(self):
        return (
            self.exclude(crits__released_at__isnull=False)
            .select_related("exercise")
            .order_by("-handed_in_at")
        )

    def reviewable_by(self, user):
        """Hand-ins to courses this person teaches or helps with."""
        return self.filter(exercise__week__course__teachings__user=user).distinct()

    def visible_to(self, user):
        """Own hand-ins, those one may review, and what was shared with one's group."""
        shared = models.Q(
            shared_with_group=True,
            withdrawn_at=None,
            group__enrolments__user=user,
            group__enrolments__left_at=None,
        )
        return self.filter(
            models.Q(student=user) | models.Q(exercise__week__course__teachings__user=user) | shared
        ).distinct()


class HandIn(models.Model):
    """A frame or series put forward for an exercise."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting for a word"
        KEPT = "kept", "kept"
        RESHOOT = "reshoot asked", "reshoot asked"
        TALKED = "talked through", "talked through"

    exercise = models.ForeignKey(
        "course.Exercise", on_delete=models.CASCADE, related_name="hand_ins"
    )
    group = models.ForeignKey("course.Group", on_delete=models.CASCADE, related_name="hand_ins")
    student = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="hand_ins"
    )
    frames = models.ManyToManyField(
        "shootlog.Frame", through="HandInFrame", related_name="hand_ins"
    )
    series = models.ForeignKey(
        "shootlog.Series", null=True, blank=True, on_delete=models.SET_NULL, related_name="hand_ins"
    )
    wanted = models.CharField(max_length=300, blank=True)  # 'I wanted ...'
    unsure = models.CharField(max_length=300, blank=True)  # 'I'm unsure about ...'
    handed_in_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    reshoot_of = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="reshoots"
    )
    welfare = models.JSONField(default=dict, blank=True)
    self_checked = models.JSONField(default=dict, blank=True)
    shared_with_group = models.BooleanField(default=False)
    may_be_projected = models.BooleanField(default=False)
    #: follows the latest decision of a crit; students see it only once released
    state = models.CharField(max_length=16, choices=State.choices, default=State.WAITING)
    verdicts = models.JSONField(null=True, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)  # a person opened it in review

    objects = HandInQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["exercise", "state"], name="to_look_at")]

    def __str__(self):
        return f"{self.student} for {self.exercise}"

    def withdraw(self):
        self.withdrawn_at = timezone.now()
        self.save(update_fields=["withdrawn_at"])


class HandInFrame(models.Model):
    hand_in = models.ForeignKey(HandIn, on_delete=models.CASCADE, related_name="places")
    frame = models.ForeignKey(
        "shootlog.Frame", on_delete=models.CASCADE, related_name="hand_in_places"
    )
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["hand_in", "frame"], name="a_frame_once_in_a_hand_in")
        ]

    def __str__(self):
        return f"{self.hand_in} {self.position}"

from django.conf import settings
from django.db import models, transaction
from django.utils import timezone


class SeriesQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)

    def settled(self):
        """No frame of it is still being read."""
        return self.exclude(frames__state__in=("waiting", "reading"))

    def offered(self):
        """Put together by likeness, and nobody said yes or no yet."""
        return self.filter(confirmed=False).exclude(told__has_key="not_so")

    @transaction.atomic
    def of_frames(self, *, owner, kind, frames, name="", **told):
        """Put frames together, in the order given."""
        row = self.create(owner=owner, kind=kind, name=name, told=told)
        SeriesFrame.objects.bulk_create(
            SeriesFrame(series=row, frame=frame, position=k) for k, frame in enumerate(frames)
        )
        return row


class Series(models.Model):
    """Frames that belong together, in order."""

    class Kind(models.TextChoices):
        STACK = "stack", "stack"
        APERTURES = "apertures", "aperture series"
        LIGHT = "light", "light study"
        APPROACH = "approach", "approach"
        BURST = "burst", "burst"
        LADDER = "ladder", "gear ladder"
        LANDSCAPE = "landscape", "few-frame landscape stack"

    class State(models.TextChoices):
        WAITING = "waiting"
        READING = "reading"
        READY = "ready"
        UNREADABLE = "unreadable"

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="series"
    )
    kind = models.CharField(max_length=12, choices=Kind.choices)
    name = models.CharField(max_length=120, blank=True)
    frames = models.ManyToManyField("shootlog.Frame", through="SeriesFrame", related_name="series")
    made_at = models.DateTimeField(default=timezone.now)
    confirmed = models.BooleanField(default=True)  # False: offered by grouping, not yet said yes
    #: what the student told: planned_step_mm, subject_depth_mm, directions, factor ...
    told = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=12, choices=State.choices, default=State.WAITING)
    trouble = models.TextField(blank=True)
    check_result = models.JSONField(null=True, blank=True)  # what `manage.py series` would print
    read_version = models.CharField(max_length=20, blank=True)

    objects = SeriesQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "series"

    def __str__(self):
        return self.name or f"{self.get_kind_display()} {self.pk}"

    @property
    def is_settled(self):
        return self.state in (self.State.READY, self.State.UNREADABLE)

    @property
    def animal_left(self):
        """The owner said so: a good end to an approach, whatever the brief counted on."""
        return self.kind == self.Kind.APPROACH and bool(self.told.get("animal_left"))

    @property
    def shown_key(self):
        """The folder of what is made of all frames together."""
        return f"shown/{self.owner_id}/series-{self.pk}"

    @property
    def proof_key(self):
        return f"{self.shown_key}/proof.png"


class SeriesFrame(models.Model):
    series = models.ForeignKey(Series, on_delete=models.CASCADE, related_name="places")
    frame = models.ForeignKey(
        "shootlog.Frame", on_delete=models.CASCADE, related_name="series_places"
    )
    position = models.PositiveIntegerField()
    told = models.JSONField(default=dict, blank=True)  # e.g. {"direction": "side"}

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["series", "frame"], name="a_frame_once_in_a_series")
        ]

    def __str__(self):
        return f"{self.series} {self.position}"

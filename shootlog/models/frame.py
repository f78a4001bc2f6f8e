from django.conf import settings
from django.db import models
from django.db.models.functions import Coalesce
from django.utils import timezone

from shootlog.file_trouble import file_trouble_slugs
from shootlog.findings import all_findings
from shootlog.reading import Reading
from shootlog.recorded import Recorded


class FrameQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)

    def in_time_order(self):
        """Class time where the camera wrote one, else the order of arrival."""
        return self.order_by(models.F("taken_at").asc(nulls_last=True), "received_at", "pk")

    def for_contact_sheet(self, user):
        """Newest first, by class time where there is one, so that a page can be cut off it."""
        return (
            self.owned_by(user)
            .select_related("set_up", "camera")
            .prefetch_related("flags")
            .annotate(on_the_sheet=Coalesce("taken_at", "received_at"))
            .order_by("-on_the_sheet", "-pk")
        )

    def settled(self):
        return self.filter(state__in=(Frame.State.READY, Frame.State.UNREADABLE))


class Frame(models.Model):
    """One picture file as it left the camera, with what was read from it."""

    class State(models.TextChoices):
        WAITING = "waiting"
        READING = "reading"
        READY = "ready"
        UNREADABLE = "unreadable"

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="frames"
    )
    sha256 = models.CharField(max_length=64)
    size_bytes = models.BigIntegerField()
    sent_name = models.CharField(max_length=255, blank=True)  # for people; never a path
    file_type = models.CharField(max_length=12, blank=True)
    received_at = models.DateTimeField(default=timezone.now, db_index=True)

    state = models.CharField(max_length=12, choices=State.choices, default=State.WAITING)
    trouble = models.TextField(blank=True)  # words for the student when unreadable
    read_at = models.DateTimeField(null=True, blank=True)
    read_version = models.CharField(max_length=20, blank=True)
    recorded = models.JSONField(null=True, blank=True)
    evidence = models.JSONField(null=True, blank=True)
    reading = models.JSONField(null=True, blank=True)
    caption = models.TextField(blank=True)  # what was really going on, one line

    camera = models.ForeignKey(
        "shootlog.Camera", null=True, blank=True, on_delete=models.SET_NULL, related_name="frames"
    )
    set_up = models.ForeignKey(
        "shootlog.KeptSetUp",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="frames",
    )
    taken_at = models.DateTimeField(null=True, blank=True, db_index=True)  # class time
    note = models.TextField(blank=True)
    #: what the student told of this one frame: support, subject_depth_mm, light, wind ...
    told = models.JSONField(default=dict, blank=True)
    #: what should be sharp, as fractions [x, y, width, height]; a tap is a small area
    wanted_area = models.JSONField(null=True, blank=True)
    own_mark = models.CharField(
        max_length=6, blank=True, choices=[("keep", "keep"), ("maybe", "maybe"), ("no", "no")]
    )
    shared_with_group = models.BooleanField(default=False)
    place_words = models.CharField(max_length=120, blank=True)
    sensitive_species = models.BooleanField(default=False)
    people_in_it = models.CharField(
        max_length=9,
        blank=True,
        choices=[
            ("", "nobody can be recognised"),
            ("agreed", "somebody can be recognised, and agreed"),
            ("not asked", "somebody can be recognised, and was not asked"),
        ],
    )

    objects = FrameQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["owner", "sha256"], name="same_bytes_same_frame")
        ]

    def __str__(self):
        return self.sent_name or f"frame {self.pk}"

    @property
    def is_settled(self):
        """Nothing more will change until someone tells something new."""
        return self.state in (self.State.READY, self.State.UNREADABLE)

    @property
    def is_readable(self):
        return self.state == self.State.READY

    @property
    def file_trouble_titles(self) -> list[str]:
        """What is the matter with the file itself, in a few words; uses what a page prefetched."""
        standing = {flag.finding for flag in self.flags.all() if flag.set_aside_at is None}
        known = all_findings()
        return [known[slug].title for slug in file_trouble_slugs() if slug in standing]

    @property
    def original_key(self) -> str:
        """Where the untouched bytes lie in the store; per owner, so that leaving is complete."""
        return f"originals/{self.owner_id}/{self.sha256[:2]}/{self.sha256}"

    @property
    def shown_key(self) -> str:
        """The folder of what is shown: screen.jpg, thumb.jpg, map.npz."""
        return f"shown/{self.owner_id}/{self.pk}"

    @property
    def what_was_recorded(self) -> Recorded | None:
        return Recorded.from_json(self.recorded) if self.recorded else None

    @property
    def what_was_read(self) -> Reading | None:
        return Reading.from_json(self.reading) if self.reading else None

    @property
    def size_as_seen(self) -> tuple[int, int] | None:
        """Width and height in pixels once turned upright: as decoded, else as the file told."""
        seen = self.evidence or {}
        if seen.get("width_px") and seen.get("height_px"):
            return seen["width_px"], seen["height_px"]
        recorded = self.recorded or {}
        width, height = recorded.get("width_px"), recorded.get("height_px")
        if not (width and height):
            return None
        return (height, width) if (recorded.get("orientation") or 1) >= 5 else (width, height)

    @property
    def pixel_pitch_um(self) -> float | None:
        """Sensor width under one pixel of this file, where the reading could tell."""
        quantity = (self.reading or {}).get("file_pixel_um")
        return quantity["value"] if quantity else None

    def pitch_with(self, sensor_width_mm: float | None) -> float | None:
        """The same, from a sensor width the owner told, which goes before what was read."""
        width_px = (self.recorded or {}).get("width_px")
        if sensor_width_mm and width_px:
            return 1000.0 * sensor_width_mm / width_px
        return self.pixel_pitch_um

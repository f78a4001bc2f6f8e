from django.conf import settings
from django.db import models
from django.utils import timezone

from shootlog.set_up import SUPPORTS, SetUp

TOLD = (
    "body",
    "lens",
    "focal_length_mm",
    "tube_mm",
    "close_up_dioptre",
    "teleconverter",
    "reversed",
    "ring_magnification",
    "ruler_magnification",
    "ruler_low",
    "ruler_high",
    "pupil_magnification",
    "records_f_number",
    "sensor_width_mm",
    "support",
)


class KeptSetUpQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)

    def offered_to(self, user):
        """The set-ups a person is offered, the one used last first."""
        return self.owned_by(user).filter(retired_at=None).order_by("-last_used_at", "-pk")


class KeptSetUp(models.Model):
    """A set-up remembered and offered again; `as_set_up` gives its plain values."""

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="set_ups"
    )
    name = models.CharField(max_length=120)
    body = models.CharField(max_length=120, blank=True)
    lens = models.CharField(max_length=120, blank=True)
    focal_length_mm = models.FloatField(null=True, blank=True)
    tube_mm = models.FloatField(null=True, blank=True)
    close_up_dioptre = models.FloatField(null=True, blank=True)
    teleconverter = models.FloatField(null=True, blank=True)
    reversed = models.BooleanField(null=True, blank=True)
    ring_magnification = models.FloatField(null=True, blank=True)
    pupil_magnification = models.FloatField(null=True, blank=True)
    records_f_number = models.CharField(
        max_length=10, blank=True, choices=[("marked", "marked"), ("effective", "effective")]
    )
    sensor_width_mm = models.FloatField(null=True, blank=True)
    support = models.CharField(max_length=10, blank=True, choices=[(s, s) for s in SUPPORTS])
    # The ruler frame: what was measured with everything mounted.
    ruler_frame = models.ForeignKey(
        "shootlog.Frame", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    ruler_px_per_mm = models.FloatField(null=True, blank=True)
    ruler_magnification = models.FloatField(null=True, blank=True)
    ruler_low = models.FloatField(null=True, blank=True)
    ruler_high = models.FloatField(null=True, blank=True)
    best_f_number = models.FloatField(null=True, blank=True)  # from the owner's aperture series
    last_used_at = models.DateTimeField(default=timezone.now)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = KeptSetUpQuerySet.as_manager()

    def __str__(self):
        return self.name

    def as_set_up(self) -> SetUp:
        told = {key: getattr(self, key) for key in TOLD}
        return SetUp.from_mapping({k: v for k, v in told.items() if v not in (None, "")})

    def measured_with(self, frame, *, px_per_mm, pixel_pitch_um, low=None, high=None):
        """Take the scale of a ruler frame; `low` and `high` bound it, in px per mm."""
        per = pixel_pitch_um / 1000.0
        self.ruler_frame = frame
        self.ruler_px_per_mm = px_per_mm
        self.ruler_magnification = px_per_mm * per
        self.ruler_low = (low or px_per_mm) * per
        self.ruler_high = (high or px_per_mm) * per
        self.save(
            update_fields=[
                "ruler_frame",
                "ruler_px_per_mm",
                "ruler_magnification",
                "ruler_low",
                "ruler_high",
            ]
        )

    def retire(self):
        """Not offered any more; the frames taken with it keep it."""
        self.retired_at = timezone.now()
        self.save(update_fields=["retired_at"])

    def touch(self):
        self.last_used_at = timezone.now()
        self.save(update_fields=["last_used_at"])

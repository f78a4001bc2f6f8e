from datetime import timedelta

from django.conf import settings
from django.db import models, transaction


class CameraQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)


class Camera(models.Model):
    """One body in one person's bag: its clock offset and what the owner told of its sensor."""

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="cameras"
    )
    make = models.CharField(max_length=120, blank=True)
    model = models.CharField(max_length=120, blank=True)
    serial = models.CharField(max_length=120, blank=True)  # never shown to others
    clock_offset_s = models.IntegerField(
        default=0, help_text="Seconds to add to this camera's clock to get class time."
    )
    sensor_width_mm = models.FloatField(null=True, blank=True)
    asked_about_sensor = models.BooleanField(default=False)

    objects = CameraQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "make", "model", "serial"], name="one_row_per_body_and_owner"
            )
        ]

    def __str__(self):
        twice = self.make and self.model.lower().startswith(self.make.lower())
        return (self.model if twice else f"{self.make} {self.model}").strip() or "unnamed camera"

    @property
    def clock_in_words(self):
        """How the clock is put right, in words."""
        if not self.clock_offset_s:
            return "its clock is taken as it is"
        minutes, seconds = divmod(abs(self.clock_offset_s), 60)
        off = f"{minutes} min {seconds} s" if seconds else f"{minutes} min"
        return f"its clock runs {off} {'ahead' if self.clock_offset_s < 0 else 'slow'}; put right"

    def tell_sensor_width(self, width_mm):
        """Keep what the owner told; True where it is news."""
        if width_mm == self.sensor_width_mm:
            return False
        self.sensor_width_mm = width_mm
        self.asked_about_sensor = True
        self.save(update_fields=["sensor_width_mm", "asked_about_sensor"])
        return True

    @transaction.atomic
    def put_clock_right(self, offset_s):
        """Give the camera's clock another offset and move its frames along in class time."""
        moved = timedelta(seconds=offset_s - self.clock_offset_s)
        self.clock_offset_s = offset_s
        self.save(update_fields=["clock_offset_s"])
        self.frames.exclude(taken_at=None).update(taken_at=models.F("taken_at") + moved)

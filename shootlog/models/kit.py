from django.conf import settings
from django.db import models

from shootlog.lenses import find_lens


class KitQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)


class KitItem(models.Model):
    """One thing a person owns and plans with: a body, a lens, a tube, a close-up lens, a converter.

    Each kind fills its own numbers; the rest stay empty.
    """

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="kit"
    )
    kind = models.CharField(max_length=12)
    name = models.CharField(max_length=120, blank=True)
    sensor_width_mm = models.FloatField(null=True, blank=True)
    sensor_height_mm = models.FloatField(null=True, blank=True)
    focal_length_mm = models.FloatField(null=True, blank=True)
    largest_ratio = models.FloatField(null=True, blank=True)  # by the lens alone
    closest_focal_length_mm = models.FloatField(null=True, blank=True)
    widest_f_number = models.FloatField(null=True, blank=True)
    length_mm = models.FloatField(null=True, blank=True)
    power_dioptre = models.FloatField(null=True, blank=True)
    factor = models.FloatField(null=True, blank=True)

    objects = KitQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "focal_length_mm", "length_mm", "power_dioptre", "pk"]

    def __str__(self):
        return self.name or f"{self.kind} {self.pk}"

    def fill_from_table(self):
        """Take from the table of lenses what is known of this name and was not told."""
        known = find_lens(self.name)
        if known is None:
            return
        for key in ("focal_length_mm", "largest_ratio", "closest_focal_length_mm"):
            if getattr(self, key) is None:
                setattr(self, key, getattr(known, key))

from django.conf import settings
from django.db import models

from shootlog.lenses import find_lens
from shootlog.models.kept_set_up import KeptSetUp
from shootlog.what_if import usual_height_mm


class KitQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)

    def bring_from_set_ups(self, user):
        """Put into the bag what the person's kept set-ups name; return how many things came.

        What is in the bag already stays as it was told. A lens whose ratio neither its set-ups
        nor the table of lenses know comes without one, and the planner takes the usual.
        """
        there = {(item.kind, item.what) for item in self.owned_by(user)}
        new = {}
        for set_up in KeptSetUp.objects.offered_to(user):
            for item in _things_of(set_up):
                key = (item.kind, item.what)
                if key in new:
                    new[key].largest_ratio = max(
                        filter(None, (new[key].largest_ratio, item.largest_ratio)), default=None
                    )
                elif key not in there:
                    new[key] = item
        for item in new.values():
            item.fill_from_table()
        return len(self.bulk_create(new.values()))


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
    pupil_ratio = models.FloatField(null=True, blank=True)  # exit over entrance pupil
    free_at_closest_mm = models.FloatField(null=True, blank=True)  # measured, rim to subject
    length_mm = models.FloatField(null=True, blank=True)
    power_dioptre = models.FloatField(null=True, blank=True)
    factor = models.FloatField(null=True, blank=True)

    objects = KitQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "focal_length_mm", "length_mm", "power_dioptre", "pk"]

    def __str__(self):
        return self.name or f"{self.kind} {self.pk}"

    @property
    def what(self):
        """What makes two things of one kind the same: the name, or the number it has."""
        return self.name or self.length_mm or self.power_dioptre or self.factor

    @property
    def rim_mm(self):
        """From the front principal plane to the rim, by what was measured at the nearest mark."""
        if not (self.free_at_closest_mm and self.largest_ratio and self.focal_length_mm):
            return None
        focal = self.closest_focal_length_mm or self.focal_length_mm
        return focal * (1.0 + 1.0 / self.largest_ratio) - self.free_at_closest_mm

    def fill_from_table(self):
        """Take from the table of lenses what is known of this name and was not told."""
        known = find_lens(self.name)
        if known is None:
            return
        for key in ("focal_length_mm", "largest_ratio", "closest_focal_length_mm"):
            if getattr(self, key) is None:
                setattr(self, key, getattr(known, key))


def _things_of(set_up):
    """Yield what stands in one set-up; a thing without the number that matters is left out."""
    owner = set_up.owner_id
    if set_up.body and set_up.sensor_width_mm:
        yield KitItem(
            owner_id=owner,
            kind="body",
            name=set_up.body,
            sensor_width_mm=set_up.sensor_width_mm,
            sensor_height_mm=usual_height_mm(set_up.sensor_width_mm),
        )
    if set_up.lens and set_up.focal_length_mm and not set_up.reversed:
        yield KitItem(
            owner_id=owner,
            kind="lens",
            name=set_up.lens,
            focal_length_mm=set_up.focal_length_mm,
            largest_ratio=set_up.ring_magnification,
        )
    if set_up.tube_mm:
        yield KitItem(owner_id=owner, kind="tube", length_mm=set_up.tube_mm)
    if set_up.close_up_dioptre:
        yield KitItem(owner_id=owner, kind="close-up", power_dioptre=set_up.close_up_dioptre)
    if set_up.teleconverter and set_up.teleconverter > 1:
        yield KitItem(owner_id=owner, kind="converter", factor=set_up.teleconverter)

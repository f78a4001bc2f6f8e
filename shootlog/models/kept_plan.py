from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

from shootlog.plan_beside import Row, beside


class KeptPlanQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)


class KeptPlan(models.Model):
    """A stack planned before it was shot; a series can be laid beside it afterwards."""

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="plans"
    )
    name = models.CharField(max_length=120)
    asked = models.JSONField(default=dict)  # what was typed, to plan it again
    found = models.JSONField(default=dict)  # `shootlog.stack_plan.StackPlan.as_json`
    series = models.ForeignKey(
        "shootlog.Series", null=True, blank=True, on_delete=models.SET_NULL, related_name="plans"
    )
    made_at = models.DateTimeField(default=timezone.now)

    objects = KeptPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at"]

    def __str__(self):
        return self.name

    @transaction.atomic
    def lay_beside(self, series):
        """Tell the series what was planned for it; the check of the series compares the two."""
        told = {
            "planned_step_mm": self.found.get("step_mm"),
            "planned_frames": self.found.get("frames"),
            "subject_depth_mm": self.asked.get("subject_depth_mm"),
        }
        series.told = series.told | {k: v for k, v in told.items() if v is not None}
        series.save(update_fields=["told"])
        self.series = series
        self.save(update_fields=["series"])

    def comparison(self) -> list[Row]:
        """Planned and shot, row by row; nothing where no series lies beside it."""
        if self.series is None:
            return []
        shot = self.series.check_result or {}
        return beside(self.found, self.asked, shot, len(self.series.places.all()))

from django.conf import settings
from django.db import models
from django.utils import timezone


class FlagQuerySet(models.QuerySet):
    def standing(self):
        """Flags nobody has set aside."""
        return self.filter(set_aside_at=None)


class Flag(models.Model):
    """An outcome 'yes' kept for the review list. An index, not the truth: see `reread`."""

    frame = models.ForeignKey(
        "shootlog.Frame", null=True, blank=True, on_delete=models.CASCADE, related_name="flags"
    )
    series = models.ForeignKey(
        "shootlog.Series", null=True, blank=True, on_delete=models.CASCADE, related_name="flags"
    )
    finding = models.SlugField(max_length=40)  # an unknown slug is a retired finding
    sure = models.CharField(max_length=12)
    numbers = models.JSONField(default=dict)  # the limit among them
    made_at = models.DateTimeField(default=timezone.now)
    made_by_version = models.CharField(max_length=20, blank=True)
    set_aside_at = models.DateTimeField(null=True, blank=True)
    set_aside_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    set_aside_why = models.CharField(max_length=200, blank=True)

    objects = FlagQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["frame", "finding"], name="a_finding_once_per_frame"),
            models.UniqueConstraint(fields=["series", "finding"], name="a_finding_once_per_series"),
            models.CheckConstraint(
                condition=models.Q(frame__isnull=False) ^ models.Q(series__isnull=False),
                name="a_flag_is_about_a_frame_or_a_series",
            ),
        ]

    def __str__(self):
        return self.finding

    def set_aside(self, *, by, why=""):
        """Someone looked and said 'not so'."""
        self.set_aside_at = timezone.now()
        self.set_aside_by = by
        self.set_aside_why = why[:200]
        self.save(update_fields=["set_aside_at", "set_aside_by", "set_aside_why"])

    def stand_again(self):
        self.set_aside_at = None
        self.set_aside_by = None
        self.set_aside_why = ""
        self.save(update_fields=["set_aside_at", "set_aside_by", "set_aside_why"])

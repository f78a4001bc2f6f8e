from collections import defaultdict
from functools import reduce
from operator import or_

from django.conf import settings
from django.db import models
from django.utils import timezone

from shootlog.findings import all_findings

LOOKED_AT_LAST = 20
LOOKED_AT_LEAST = 10
STANDS_AT_LEAST = 0.7  # share of the last looked at that people let stand


class FlagQuerySet(models.QuerySet):
    def standing(self):
        """Flags nobody has set aside."""
        return self.filter(set_aside_at=None)

    def look(self):
        """A person looked at these and let them stand or not; counted by `silent`."""
        return self.filter(looked_at=None).update(looked_at=timezone.now())

    def silent(self):
        """Findings people set aside so often of late that students do not hear them."""
        # A short walk along the index per finding, however many flags were ever looked at.
        looked_at = self.exclude(looked_at=None).order_by("-looked_at", "-pk")
        latest = [
            models.Q(pk__in=looked_at.filter(finding=slug).values("pk")[:LOOKED_AT_LAST])
            for slug in all_findings()
        ]
        rows = self.filter(reduce(or_, latest)).values_list("finding", "set_aside_at")
        stood = defaultdict(list)
        for finding, set_aside_at in rows:
            stood[finding].append(set_aside_at is None)
        return {
            finding
            for finding, each in stood.items()
            if len(each) >= LOOKED_AT_LEAST and sum(each) / len(each) < STANDS_AT_LEAST
        }


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
    looked_at = models.DateTimeField(null=True, blank=True)
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
        indexes = [models.Index(fields=["finding", "-looked_at"], name="looked_at_last")]

    def __str__(self):
        return self.finding

    def set_aside(self, *, by, why=""):
        """Someone looked and said 'not so'."""
        self.set_aside_at = self.looked_at = timezone.now()
        self.set_aside_by = by
        self.set_aside_why = why[:200]
        self.save(update_fields=["looked_at", "set_aside_at", "set_aside_by", "set_aside_why"])

    def stand_again(self):
        self.set_aside_at = None
        self.set_aside_by = None
        self.set_aside_why = ""
        self.save(update_fields=["set_aside_at", "set_aside_by", "set_aside_why"])

import uuid

from django.conf import settings
from django.db import models
from django.utils import timezone


class UploadQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)


class Upload(models.Model):
    """A file on its way in, piece by piece; its bytes so far lie in `arriving`."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="uploads"
    )
    sent_name = models.CharField(max_length=255, blank=True)
    length = models.BigIntegerField()
    offset = models.BigIntegerField(default=0)
    begun_at = models.DateTimeField(default=timezone.now)
    set_up = models.ForeignKey(
        "shootlog.KeptSetUp", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    note = models.TextField(blank=True)
    frame = models.ForeignKey(
        "shootlog.Frame", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    objects = UploadQuerySet.as_manager()

    def __str__(self):
        return f"{self.sent_name} {self.offset}/{self.length}"

import fcntl
import os
import uuid
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.db import models
from django.utils import timezone

KEPT_FOR = timedelta(days=3)  # an upload nobody resumed is swept after this
OPEN_AT_MOST = 200  # per person


class Busy(Exception):
    """Another request holds this upload just now."""


class UploadQuerySet(models.QuerySet):
    def owned_by(self, user):
        return self.filter(owner=user)

    def open(self):
        return self.filter(frame=None)

    def sweep(self):
        """Forget uploads nobody resumed, bytes and all; returns how many."""
        old = self.open().filter(begun_at__lt=timezone.now() - KEPT_FOR)
        rows = list(old)
        for row in rows:
            row.path.unlink(missing_ok=True)
        old.delete()
        return len(rows)


class Upload(models.Model):
    """A file on its way in, piece by piece.

    The bytes so far lie in the arriving folder, and their number is the offset: a row that
    repeated it could disagree after a power cut.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="uploads"
    )
    sent_name = models.CharField(max_length=255, blank=True)
    length = models.BigIntegerField()
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

    @property
    def path(self) -> Path:
        return Path(settings.ARRIVING) / str(self.pk)

    @property
    def offset(self) -> int:
        try:
            return self.path.stat().st_size
        except FileNotFoundError:
            return 0

    @property
    def is_complete(self):
        return self.offset == self.length

    @contextmanager
    def held(self):
        """Open the bytes for appending, alone; raises `Busy` where another request holds them."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with self.path.open("ab", buffering=0) as bytes_so_far:
            try:
                fcntl.flock(bytes_so_far, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                raise Busy from None
            yield bytes_so_far

    @staticmethod
    def settle(bytes_so_far):
        """What a 204 promises is on the disk, not in a cache."""
        os.fsync(bytes_so_far.fileno())

    def forget(self):
        self.path.unlink(missing_ok=True)
        self.delete()

"""Growing waits at the door: guessing gets slow, and nobody can be locked out by somebody else."""

from datetime import timedelta

from django.db import models, transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac

FORGOTTEN_AFTER = timedelta(days=1)
#: per kind of counter: tries that are free, and the longest wait after them
FREE = {"here": 5, "address": 30, "account": 20}
LONGEST_WAIT_S = {"here": 900, "address": 900, "account": 30}


class TryQuerySet(models.QuerySet):
    @transaction.atomic
    def begin(self, name, address):
        """Count a try before it is looked at; return the seconds still to wait, 0 if it may run.

        Counting first means that a hundred tries sent at once are a hundred tries. One that has
        to wait is not counted, and its password is not looked at.
        """
        now = timezone.now()
        self.filter(last_at__lt=now - FORGOTTEN_AFTER).delete()
        rows = {kind: self._row(kind, name, address) for kind in FREE}
        counted = [row for kind, row in rows.items() if kind != "account" or not rows["here"].known]
        wait = max(row.wait_s(now) for row in counted)
        if wait > 0:
            return wait
        for row in rows.values():
            row.failed += 1
            row.last_at = now
            row.save(update_fields=["failed", "last_at"])
        return 0

    @transaction.atomic
    def went_well(self, name, address):
        """Forget what was counted for this person here; the address keeps all others' tries."""
        for kind in FREE:
            row = self._row(kind, name, address)
            row.failed = max(row.failed - 1, 0) if kind == "address" else 0
            row.known = row.known or kind == "here"
            row.save(update_fields=["failed", "known"])

    def _row(self, kind, name, address):
        about = {"here": f"{name}\n{address}", "address": address, "account": name}[kind]
        key = salted_hmac("course.throttle", f"{kind}\n{about}", algorithm="sha256").hexdigest()
        return self.select_for_update().get_or_create(key=key, defaults={"kind": kind})[0]


class Try(models.Model):
    """How often somebody failed to sign in: at one account from one address, at either alone.

    Neither name nor address is kept, only a keyed hash. An address from which a person has
    signed in before does not wait for what others try at that account.
    """

    key = models.CharField(max_length=64, unique=True)
    kind = models.CharField(max_length=8, choices=[(kind, kind) for kind in FREE])
    failed = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField(default=timezone.now, db_index=True)
    known = models.BooleanField(default=False)  # this person has signed in from here

    objects = TryQuerySet.as_manager()

    def __str__(self):
        return f"{self.failed} failed ({self.kind})"

    def wait_s(self, now):
        """One second after the free tries, then twice as long each time, up to the longest."""
        over = self.failed - FREE[self.kind]
        if over < 0:
            return 0
        wait = min(2 ** min(over, 20), LONGEST_WAIT_S[self.kind])
        left = wait - (now - self.last_at).total_seconds()
        return max(0, int(left + 0.999))

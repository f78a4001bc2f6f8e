from datetime import timedelta

from django.db import connections, models, transaction
from django.utils import timezone

LEASE = timedelta(seconds=60)  # a killed worker's job is taken up again after this
ATTEMPTS = 3
BACK_OFF = [timedelta(seconds=5), timedelta(seconds=30)]  # before the second and third attempt
AWAY = timedelta(seconds=30)  # before another look whether the store is back
KEPT = timedelta(days=7)  # how long a finished job may still be asked about


class JobQuerySet(models.QuerySet):
    def due(self, now):
        """Waiting and due, or running with a lease that ran out: its worker is gone."""
        return self.filter(
            models.Q(state=Job.State.WAITING, run_after__lte=now)
            | models.Q(state=Job.State.RUNNING, lease_until__lt=now)
        ).order_by("-priority", "run_after", "pk")

    def open(self, now):
        """Waiting, due or not, or held by nobody any more."""
        return self.filter(
            models.Q(state=Job.State.WAITING)
            | models.Q(state=Job.State.RUNNING, lease_until__lt=now)
        )

    def claim(self, worker):
        """Lease the next due job to this worker; None if there is none.

        The look comes first and without a transaction: on SQLite a transaction takes the write
        lock, which idle workers must not do twice a second. A job whose workers died as often
        as it may be tried comes back as failed, for the worker to say so.
        """
        now = timezone.now()
        if not self.due(now).exists():
            return None
        with transaction.atomic(using=self.db):
            due = self.due(now)
            if connections[self.db].features.has_select_for_update_skip_locked:
                due = due.select_for_update(skip_locked=True)
            job = due.first()
            if job is None:
                return None
            return job if job.take(worker, now) else None

    def give_back(self, worker):
        """Free what a worker of this name held; only its supervisor knows that it is gone."""
        held = self.filter(state=Job.State.RUNNING, lease_until__gt=timezone.now())
        for job in held:
            if job.workers[-1] == worker:
                job.as_mine().update(lease_until=timezone.now() - timedelta(seconds=1))

    def prune(self):
        """Forget jobs that ended a while ago."""
        old = timezone.now() - KEPT
        return self.filter(finished_at__lt=old).delete()


class Job(models.Model):
    """One piece of background work. A worker holds it for a lease and must renew it.

    ``attempts`` is the fence: it only grows, whoever took the job last holds the highest
    number, and every write of a worker asks for the number it was given. A worker that was
    paused and woke up after its lease ran out can therefore no longer change the row.
    """

    class State(models.TextChoices):
        WAITING = "waiting"
        RUNNING = "running"
        DONE = "done"
        FAILED = "failed"

    task = models.CharField(max_length=200)  # dotted path of the function
    args = models.JSONField(default=list)
    kwargs = models.JSONField(default=dict)
    queue = models.CharField(max_length=40, default="default")
    priority = models.SmallIntegerField(default=0)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    workers = models.JSONField(default=list)  # one name per attempt
    lease_until = models.DateTimeField(null=True, blank=True)
    run_after = models.DateTimeField(default=timezone.now)
    enqueued_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True, blank=True)
    last_attempted_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    value = models.JSONField(null=True, blank=True)
    troubles = models.JSONField(default=list)  # [exception path, traceback] per attempt

    objects = JobQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["state", "-priority", "run_after"], name="job_next_due"),
            models.Index(fields=["finished_at"], name="job_finished"),
        ]

    def __str__(self):
        return f"{self.task.rpartition('.')[2]}{tuple(self.args)}: {self.state}"

    @property
    def is_over(self):
        return self.state in {self.State.DONE, self.State.FAILED}

    def as_mine(self):
        """The row, if nobody has taken it since."""
        return Job.objects.filter(pk=self.pk, attempts=self.attempts, state=self.state)

    def change(self, **changes):
        """Write to the row and to this object, or to neither where another worker has it."""
        if not self.as_mine().update(**changes):
            return False
        for name, value in changes.items():
            setattr(self, name, value)
        return True

    def take(self, worker, now):
        """Make it this worker's own. An attempt whose lease ran out counts as a trouble."""
        troubles = self.troubles
        if self.state == self.State.RUNNING:
            troubles = [*troubles, ["", f"{self.workers[-1]} was stopped or hung while at it"]]
            if len(troubles) >= ATTEMPTS:
                return self.change(
                    state=self.State.FAILED, troubles=troubles, lease_until=None, finished_at=now
                )
        return self.change(
            state=self.State.RUNNING,
            attempts=self.attempts + 1,
            workers=[*self.workers, worker],
            troubles=troubles,
            lease_until=now + LEASE,
            last_attempted_at=now,
            started_at=self.started_at or now,
        )

    def renew(self):
        """Hold on for another lease; False where another worker has it now."""
        return self.change(lease_until=timezone.now() + LEASE)

    def finish(self, value):
        return self.change(
            state=self.State.DONE, value=value, finished_at=timezone.now(), lease_until=None
        )

    def put_off(self):
        """Try again in a while, as often as it takes: what the job needs is away."""
        return self.change(
            state=self.State.WAITING, lease_until=None, run_after=timezone.now() + AWAY
        )

    def release(self):
        """Put it back as it was: the worker was asked to stop."""
        return self.change(state=self.State.WAITING, lease_until=None)

    def stumble(self, trouble):
        """Note why the attempt failed; try again after a while, or give up after the last."""
        now = timezone.now()
        troubles = [*self.troubles, trouble]
        if len(troubles) >= ATTEMPTS:
            changes = {"state": self.State.FAILED, "finished_at": now}
        else:
            changes = {"state": self.State.WAITING, "run_after": now + BACK_OFF[len(troubles) - 1]}
        return self.change(troubles=troubles, lease_until=None, **changes)

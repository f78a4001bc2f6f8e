"""How the house is doing, in numbers: one look for the metrics and for the page in words."""

import shutil
from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import Count, Min
from django.utils import timezone
from django_tasks import default_task_backend

from config import backup
from shootlog import store
from shootlog.jobs import read_frame
from shootlog.models import Frame, Job

RECENT = timedelta(hours=1)
MOST_LOOKED_AT = 2000  # reads of the last hour whose times are sorted


@dataclass(frozen=True)
class Wellbeing:
    """What is counted. Times in seconds, sizes in bytes."""

    jobs: dict[str, int]
    frames: dict[str, int]
    oldest_due_s: float
    read_s: list[float]  # how long each read of the last hour took, sorted
    failed_lately: int
    workers: int | None  # None where nobody counts them: on the house's own table
    disk_free: int | None  # None where files are kept elsewhere
    disk_whole: int | None
    last_backup: datetime | None
    last_backup_whole: bool

    def read_quantile_s(self, share):
        """The time that this share of the reads stayed under; None where there were none."""
        if not self.read_s:
            return None
        return self.read_s[min(int(share * len(self.read_s)), len(self.read_s) - 1)]

    @property
    def frames_waiting(self):
        return self.frames.get(Frame.State.WAITING, 0) + self.frames.get(Frame.State.READING, 0)


def look(now=None):
    now = now or timezone.now()
    jobs = Counter(dict(Job.objects.values_list("state").annotate(Count("pk"))))
    due = Job.objects.due(now).order_by().aggregate(first=Min("run_after"))["first"]
    ended = Job.objects.filter(finished_at__gt=now - RECENT)
    reads = ended.filter(state=Job.State.DONE, task=read_frame.module_path)
    times = reads.order_by("-finished_at").values_list("last_attempted_at", "finished_at")
    on_disk = store.disk_path("x") is not None
    usage = shutil.disk_usage(settings.DATA) if on_disk else None
    note = backup.last()
    return Wellbeing(
        jobs={state: jobs[state] for state in Job.State.values},
        frames=dict(Frame.objects.values_list("state").annotate(Count("pk"))),
        oldest_due_s=max(0.0, (now - due).total_seconds()) if due else 0.0,
        read_s=sorted((end - start).total_seconds() for start, end in times[:MOST_LOOKED_AT]),
        failed_lately=ended.filter(state=Job.State.FAILED).count(),
        workers=default_task_backend.workers_alive(),
        disk_free=usage.free if usage else None,
        disk_whole=usage.total if usage else None,
        last_backup=datetime.fromisoformat(note["made_at"]) if note else None,
        last_backup_whole=bool(note and note["whole"]),
    )

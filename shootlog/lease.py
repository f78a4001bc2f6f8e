"""Django's Tasks API over a table of leases: what one machine needs; `engine` is for many.

Work survives `kill -9` of any process: a job's row says who holds it and until when, and a job
whose lease ran out is taken up by the next worker. Jobs must be able to run again.
A job that failed for good sends ``django_tasks.signals.task_finished`` with status FAILED.
"""

import logging
import os
import threading
import time
from traceback import format_exception

from django.db import close_old_connections, connection, transaction
from django.db.utils import DatabaseError
from django.utils.module_loading import import_string
from django_tasks import TaskContext, TaskResult, TaskResultStatus
from django_tasks.backends.base import BaseTaskBackend
from django_tasks.base import TaskError
from django_tasks.exceptions import TaskResultDoesNotExist
from django_tasks.signals import task_enqueued, task_finished, task_started
from django_tasks.utils import get_module_path, normalize_json

from shootlog.models import Job
from shootlog.models.job import LEASE
from shootlog.store import Away

LONGEST_S = 15 * 60  # a job still running after this hangs; its worker ends itself
IDLE_S = 0.5  # between two looks at an empty table
PRUNE_S = 3600

STATUS = {
    Job.State.WAITING: TaskResultStatus.READY,
    Job.State.RUNNING: TaskResultStatus.RUNNING,
    Job.State.DONE: TaskResultStatus.SUCCESSFUL,
    Job.State.FAILED: TaskResultStatus.FAILED,
}
log = logging.getLogger(__name__)


class LeaseBackend(BaseTaskBackend):
    """Enqueueing is one insert, so it belongs to the transaction of the rows it is about."""

    supports_defer = True
    supports_get_result = True
    supports_priority = True

    def enqueue(self, task, args, kwargs):
        self.validate_task(task)
        row = {
            "task": task.module_path,
            "args": normalize_json(args),
            "kwargs": normalize_json(kwargs),
            "queue": task.queue_name,
            "priority": task.priority,
        }
        if task.run_after:
            row["run_after"] = task.run_after
        with transaction.atomic():
            job = Job.objects.create(**row)
            self.hand_out(job)
        result = result_of(job, task)
        task_enqueued.send(type(self), task_result=result)
        return result

    def hand_out(self, job):
        """Nothing: workers look at the table themselves."""

    def get_result(self, result_id):
        try:
            job = Job.objects.get(pk=result_id)
        except (Job.DoesNotExist, ValueError):
            raise TaskResultDoesNotExist(result_id) from None
        return result_of(job, import_string(job.task))

    def workers_alive(self):
        """None: a worker that has no job leaves no trace in the table."""

    def attend(self, worker, *, once):
        """Do jobs as they come, or those that are due."""
        drain(worker) if once else work(worker)


def result_of(job, task):
    """Say what the row says in the words of the Tasks API."""
    result = TaskResult(
        task=task,
        id=str(job.pk),
        status=STATUS[Job.State(job.state)],
        enqueued_at=job.enqueued_at,
        started_at=job.started_at,
        finished_at=job.finished_at,
        last_attempted_at=job.last_attempted_at,
        args=job.args,
        kwargs=job.kwargs,
        backend=task.backend,
        errors=[
            TaskError(exception_class_path=path, traceback=words) for path, words in job.troubles
        ],
        worker_ids=job.workers,
    )
    object.__setattr__(result, "_return_value", job.value)  # as the API's own backends do
    return result


# --- the worker's side ---


def work_one(worker):
    """Do the next due job, if there is one. Return whether there was."""
    job = Job.objects.claim(worker)
    if job is None:
        return False
    if job.state == Job.State.FAILED:
        announce_end(job)
        return True
    with Holding(job):
        run(job)
    return True


def run(job):
    try:
        task = import_string(job.task)
        task_started.send(LeaseBackend, task_result=result_of(job, task))
        value = normalize_json(call(task, job))
    except Away as why:  # no trouble of the job's own
        log.warning("%s waits: %s", job, why)
        job.put_off()
    except Exception as why:  # whatever a job raises is a trouble of that job alone
        log.warning("%s, attempt %s", job, job.attempts, exc_info=True)
        if job.stumble([get_module_path(type(why)), "".join(format_exception(why))]):
            announce_end(job)
    except BaseException:  # asked to stop
        job.release()
        raise
    else:
        if job.finish(value):
            announce_end(job)
        else:
            log.warning("%s was taken over by another worker; its result stands", job)


def call(task, job):
    first = [TaskContext(task_result=result_of(job, task))] if task.takes_context else []
    return task.call(*first, *job.args, **job.kwargs)


def announce_end(job):
    """Tell whoever listens that a job ended, well or for good. A listener cannot undo it."""
    if not job.is_over:
        return
    try:
        task_finished.send(LeaseBackend, task_result=result_of(job, import_string(job.task)))
    except Exception:
        log.exception("%s ended, and a listener failed", job)


class Holding:
    """Renew a job's lease from a thread while it runs, but not for ever."""

    def __init__(self, job, longest_s=LONGEST_S):
        self.job = Job(pk=job.pk, attempts=job.attempts, state=job.state)
        self.done = threading.Event()
        self.ends_at = time.monotonic() + longest_s
        self.thread = threading.Thread(target=self.renew, name=f"lease {job.pk}", daemon=True)

    def __enter__(self):
        self.thread.start()
        return self

    def __exit__(self, *_):
        self.done.set()
        self.thread.join()

    def renew(self):
        try:
            while not self.done.wait(LEASE.total_seconds() / 3):
                if time.monotonic() > self.ends_at:
                    log.error("job %s hangs; this worker ends and another goes on", self.job.pk)
                    os._exit(70)
                self.try_renewing()
        finally:
            connection.close()  # this thread's own

    def try_renewing(self):
        try:
            if not self.job.renew():
                self.done.set()  # another worker has it; its fence refuses our result
        except DatabaseError:
            log.warning("the lease of job %s could not be renewed", self.job.pk, exc_info=True)


def drain(worker):
    """Do jobs until none is due."""
    while work_one(worker):
        pass


def work(worker):
    """Do jobs as they come, until asked to stop; outlast a database that does not answer."""
    pruned_at = None
    wait_s = IDLE_S
    while True:
        close_old_connections()
        try:
            if pruned_at is None or time.monotonic() - pruned_at > PRUNE_S:
                Job.objects.prune()
                pruned_at = time.monotonic()
            drain(worker)
            wait_s = IDLE_S
        except DatabaseError:
            wait_s = min(wait_s * 2, 30)
            log.warning("the database does not answer; trying again in %g s", wait_s, exc_info=True)
            connection.close()
        time.sleep(wait_s)

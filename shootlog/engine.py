"""Background work on many machines: procrastinate hands the jobs out, our table stays the record.

A job has its row, as on one machine, and beside it a delivery in the engine's own table, both
written in one transaction. The engine wakes the workers, gives a delivery to one of them, hears
whether workers are alive and tries again. What a delivery may do is up to the row: `attempts` is
the fence, so that a job at which two were (one cut off and taken for lost) has one result. The
two need never agree to the letter: a delivery that is lost is made again from the row, which is
also how jobs that waited when a backup was made go on in another kind of database.
"""

import asyncio
import contextlib
import logging
import os
import signal
import threading
import time
from datetime import timedelta

from asgiref.sync import sync_to_async
from django.db import DatabaseError, close_old_connections, models, transaction
from django.db.models.functions import Cast, Concat
from django.utils import timezone
from procrastinate import BaseRetryStrategy, RetryDecision
from procrastinate.contrib.django import app
from procrastinate.contrib.django.models import ProcrastinateJob as Delivery
from procrastinate.contrib.django.models import ProcrastinateWorker as Worker
from procrastinate.contrib.django.utils import connector_params
from procrastinate.exceptions import AlreadyEnqueued, ConnectorException
from procrastinate.jobs import Status
from procrastinate.psycopg_connector import PsycopgConnector

from shootlog import lease
from shootlog.models import Job

BEAT_S = 10  # how often a worker says that it is alive
SILENT_S = 30  # one that was not heard for so long is lost
LOOK = "* * * * * */15"  # every 15 seconds one worker looks for what was lost (seconds come last)
HOURLY = "17 * * * *"
BEFORE_ALL = 1000  # priority of that look
SLEEP_S = 5  # between two looks of an idle worker; it is woken as soon as a job comes
DOUBT_S = 60  # before a delivery is tried again that broke off for a reason of ours
STOPPING_S = 8  # a job still running so long after the word to stop is put back
AGAIN_S = 2.0  # before a worker that lost the database comes back
AT_ONCE = 500

log = logging.getLogger(__name__)
held: dict[int, tuple[Job, int]] = {}  # rows this process is at, and the delivery of each


class EngineBackend(lease.LeaseBackend):
    """The same rows, and a delivery for each."""

    def hand_out(self, job):
        hand_out(job)

    def workers_alive(self):
        heard = timezone.now() - timedelta(seconds=SILENT_S)
        return Worker.objects.filter(last_heartbeat__gt=heard).count()

    def attend(self, worker, *, once):
        attend(worker, once=once)


def lock_of(job):
    return f"job {job.pk}"


def hand_out(job):
    """Give a job to the engine; False where it has it already."""
    with contextlib.suppress(AlreadyEnqueued), transaction.atomic():
        deliver.configure(
            queueing_lock=lock_of(job),
            priority=job.priority,
            queue=job.queue,
            schedule_at=job.run_after if job.run_after > timezone.now() else None,
        ).defer(job_id=job.pk)
        return True
    return False


class Again(Exception):  # noqa: N818 - the row has the trouble
    """The row says that the job is to be tried again."""

    def __init__(self, at):
        self.at = at


class AsTheRowSays(BaseRetryStrategy):
    def get_retry_decision(self, *, exception, job):
        if isinstance(exception, Again):
            return RetryDecision(retry_at=exception.at)
        # the database went away in the midst; the row counts how often
        return RetryDecision(retry_in={"seconds": DOUBT_S})


@app.task(name="deliver", pass_context=True, retry=AsTheRowSays())
def deliver(context, job_id):
    """Do what the row says, once, however often the engine brings it."""
    job = Job.objects.filter(pk=job_id).first()
    if job is None or job.is_over or not job.take(context.worker_name, timezone.now()):
        return
    if job.is_over:  # its workers died as often as it may be tried
        lease.announce_end(job)
        return
    held[job.pk] = (job, context.job.id)
    try:
        with lease.Holding(job):
            lease.run(job)
    finally:
        del held[job.pk]
    if job.state == Job.State.WAITING:
        raise Again(job.run_after)


# --- what was lost ---


@app.periodic(cron=LOOK)
@app.task(
    name="look for what was lost", queueing_lock="look", priority=BEFORE_ALL, pass_context=True
)
async def look(context, timestamp):
    await take_up_again(context.app.job_manager)


async def take_up_again(manager):
    """Hand out again what is held by nobody who is alive."""
    for delivery in await manager.get_stalled_jobs(seconds_since_heartbeat=SILENT_S):
        if delivery.task_name == deliver.name:
            log.warning("%s: its worker is lost; another goes on", delivery.queueing_lock)
            await manager.retry_job(delivery)
        else:  # a look of ours; the next one is on its way
            await manager.finish_job(delivery, status=Status.ABORTED, delete_job=True)
    await sync_to_async(mend)()


def mend():
    close_old_connections()  # the thread this runs in may have lost its own meanwhile
    retry_what_was_let_go()
    hand_out_what_has_no_delivery()


def retry_what_was_let_go():
    """A supervisor says at once that its worker is dead; its lease is over then."""
    over = Job.objects.filter(state=Job.State.RUNNING, lease_until__lt=timezone.now())
    locks = [lock_of(job) for job in over.only("pk")[:AT_ONCE]]
    at_it = Delivery.objects.filter(status="doing", queueing_lock__in=locks)
    for delivery in at_it.values_list("pk", flat=True):
        app.job_manager.retry_job_by_id(delivery, timezone.now())


def hand_out_what_has_no_delivery():
    """Rows from a backup, or whose delivery was ended by a worker that came back too late."""
    lock = Concat(models.Value("job "), Cast("pk", models.CharField()))
    open_ = Delivery.objects.filter(status__in=["todo", "doing"])
    undelivered = (
        Job.objects.open(timezone.now())
        .annotate(lock=lock)
        .filter(~models.Exists(open_.filter(queueing_lock=models.OuterRef("lock"))))
    )
    for job in undelivered[:AT_ONCE]:
        hand_out(job)


@app.periodic(cron=HOURLY)
@app.task(name="forget old jobs", queueing_lock="forget")
def forget(timestamp):
    Job.objects.prune()


# --- the worker ---


def attend(worker, *, once):
    """Do jobs as they are handed out, until asked to stop; outlast a database that is away."""
    asked, wait_s = [], AGAIN_S
    while True:
        began = time.monotonic()
        try:
            asyncio.run(_attend(worker, once, asked))
        except Exception as why:
            if once:
                raise
            unknown = not isinstance(why, (DatabaseError, ConnectorException))
            log.warning("the engine stopped (%s); again in %g s", why, wait_s, exc_info=unknown)
        if asked or once:
            return
        wait_s = AGAIN_S if time.monotonic() - began > 60 else min(wait_s * 2, 30)
        time.sleep(wait_s)


async def _attend(worker, once, asked):
    """Run the engine's own worker once; `asked` is filled when it was asked to stop."""

    def stop():
        if not asked:
            asked.append(True)
            hard = threading.Timer(STOPPING_S, leave_now)
            hard.daemon = True
            hard.start()
            running.cancel()

    connector = PsycopgConnector(kwargs=connector_params(), min_size=1, max_size=3, timeout=10)
    # Not `replace_connector`: a job that asks for another one does so on Django's connection,
    # in the transaction of its rows.
    async with app.with_connector(connector).open_async() as engine:
        await take_up_again(engine.job_manager)
        running = asyncio.ensure_future(
            engine.run_worker_async(
                name=worker,
                wait=not once,
                fetch_job_polling_interval=SLEEP_S,
                delete_jobs="always",  # our row is the record
                update_heartbeat_interval=BEAT_S,
                stalled_worker_timeout=SILENT_S,
                install_signal_handlers=False,
            )
        )
        for number in (signal.SIGTERM, signal.SIGINT):
            asyncio.get_running_loop().add_signal_handler(number, stop)
        with contextlib.suppress(asyncio.CancelledError):
            await running


def leave_now():
    """Put back what is still running: a thread cannot be stopped, a process can."""
    for job, delivery in list(held.values()):
        with contextlib.suppress(Exception):
            job.release()
            app.job_manager.retry_job_by_id(delivery, timezone.now())
    os._exit(0)

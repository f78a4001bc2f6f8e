"""Background work over procrastinate: what `test_lease` asks of the table, asked of the engine.

The tests there start real workers, which on PostgreSQL are the engine's; here is what it has
besides. That a worker was silent is said by moving its last heartbeat back, not by waiting.
"""

import signal
from types import SimpleNamespace

import pytest
from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from config import wellbeing
from shootlog.models import Job
from tests.house import environment, manage, url_of_test_database, wait_for
from tests.shootlog import odd_jobs

pytestmark = pytest.mark.skipif(
    settings.TASKS_BY != "procrastinate",
    reason="the engine of many machines needs PostgreSQL: manage.py test --postgres",
)


@pytest.fixture
def engine(db):
    from shootlog import engine

    return engine


@pytest.fixture
def deliveries(engine):
    """Return a function that gives (status, job, when) of the engine's own rows of these tests."""

    def ask():
        mine = [engine.lock_of(job) for job in Job.objects.all()]
        found = engine.Delivery.objects.filter(queueing_lock__in=mine).order_by("pk")
        return [(row.status, row.args["job_id"], row.scheduled_at) for row in found]

    return ask


@pytest.fixture
def worker(transactional_db, tmp_path):
    """Return a function that starts a real worker on the test's database."""
    env = environment(tmp_path, WD_DATABASE_URL=url_of_test_database())
    return lambda *words: manage("work", *words, env=env)


def bring(engine, job, worker="one"):
    """Do what the engine does in a worker when it brings a delivery."""
    engine.deliver.func(SimpleNamespace(worker_name=worker, job=SimpleNamespace(id=1)), job.pk)


def test_row_and_delivery_belong_to_the_transaction(deliveries):
    def half_done():
        with transaction.atomic():
            odd_jobs.add.enqueue(3, 4)
            raise RuntimeError

    odd_jobs.add.enqueue(1, 2)
    with pytest.raises(RuntimeError):
        half_done()
    job = Job.objects.get()
    assert deliveries() == [("todo", job.pk, None)]


def test_a_failing_job_comes_again_when_its_row_says(engine):
    odd_jobs.fail.enqueue("no such tag")
    job = Job.objects.get()
    with pytest.raises(engine.Again) as again:
        bring(engine, job)
    job.refresh_from_db()
    assert job.state == Job.State.WAITING
    decision = engine.AsTheRowSays().get_retry_decision(exception=again.value, job=None)
    assert decision.retry_at == job.run_after > timezone.now()


def test_a_job_brought_twice_is_done_once(engine):
    odd_jobs.which_attempt.enqueue()
    job = Job.objects.get()
    bring(engine, job, "one")
    bring(engine, job, "two")
    job.refresh_from_db()
    assert (job.value, job.attempts, job.workers) == (1, 1, ["one"])


def test_a_worker_that_was_taken_for_lost_changes_nothing(engine):
    odd_jobs.which_attempt.enqueue()
    cut_off = Job.objects.get()
    assert cut_off.take("cut off", timezone.now())
    bring(engine, cut_off, "another")  # the engine heard nothing of the first for half a minute
    assert not cut_off.finish("stale")
    job = Job.objects.get()
    assert (job.value, job.attempts) == (2, 2)


def test_rows_without_a_delivery_are_handed_out_again_and_only_they(engine, deliveries):
    odd_jobs.add.enqueue(1, 1)
    restored = Job.objects.create(task="tests.shootlog.odd_jobs.add", args=[2, 2])
    running = Job.objects.create(task="tests.shootlog.odd_jobs.add", args=[3, 3])
    running.take("somebody", timezone.now())
    done = Job.objects.create(task="tests.shootlog.odd_jobs.add", state=Job.State.DONE)
    for _ in range(2):
        engine.hand_out_what_has_no_delivery()
        handed_out = [pk for _, pk, _ in deliveries()]
        assert handed_out.count(restored.pk) == 1
        assert not {running.pk, done.pk} & set(handed_out)
        assert len(handed_out) == 2


@pytest.mark.django_db(transaction=True)
def test_a_look_for_what_was_lost_outlasts_its_own_lost_connection():
    """Found by `tests/many_hosts.py`: a worker whose cable was pulled never came back."""
    from shootlog import engine

    job = Job.objects.create(task="tests.shootlog.odd_jobs.add", args=[2, 2])
    connection.connection.close()
    with pytest.raises(DatabaseError):
        Job.objects.count()
    engine.mend()
    assert engine.Delivery.objects.filter(queueing_lock=engine.lock_of(job)).count() == 1


@pytest.mark.slow
def test_a_job_of_a_silent_worker_is_done_by_the_next(engine, worker, tmp_path):
    begun = tmp_path / "begun"
    result = odd_jobs.dawdle_once.enqueue(str(begun))
    with worker() as first:
        wait_for(begun.exists)
        first.send_signal(signal.SIGKILL)
        first.wait()
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE procrastinate_workers SET last_heartbeat = last_heartbeat - interval '1 minute'"
        )
    with worker("--once") as second:
        assert second.wait(300) == 0
    result.refresh()
    assert (result.return_value, result.attempts) == ("done the second time", 2)


@pytest.mark.slow
def test_a_worker_is_woken_and_outlasts_a_lost_connection(engine, worker):
    before = wellbeing.look().workers
    with worker():
        first = odd_jobs.add.enqueue(1, 1)
        wait_for(lambda: Job.objects.get(pk=first.id).is_over)
        assert wellbeing.look().workers == before + 1
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        second = odd_jobs.add.enqueue(2, 2)
        wait_for(lambda: Job.objects.get(pk=second.id).is_over)
    assert Job.objects.get(pk=second.id).value == 4

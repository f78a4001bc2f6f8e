"""Background work: tried, tried again, given up; and what kill -9 does to it (nothing lost).

The processes are real and are killed as an operator or the kernel would kill them. That a lease
has run out is said by moving its end into the past, not by waiting a minute.
"""

import signal
import threading
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks.exceptions import TaskResultDoesNotExist
from django_tasks.signals import task_finished

from shootlog import lease
from shootlog.models import Job
from shootlog.models.job import ATTEMPTS
from tests.house import environment, manage, url_of_test_database, wait_for
from tests.shootlog import odd_jobs


@pytest.fixture
def ended():
    """The results that were announced as ended, in order."""
    heard = []

    def listen(sender, task_result, **_):
        heard.append(task_result)

    task_finished.connect(listen)
    yield heard
    task_finished.disconnect(listen)


@pytest.fixture
def worker(transactional_db, tmp_path):
    """Return a function that starts a real worker on the test's database."""
    env = environment(tmp_path, WD_DATABASE_URL=url_of_test_database())
    return lambda *words: manage("work", *words, env=env)


def let_the_leases_run_out():
    past = timezone.now() - timedelta(seconds=1)
    return Job.objects.filter(state=Job.State.RUNNING).update(lease_until=past)


def make_all_due():
    Job.objects.filter(state=Job.State.WAITING).update(run_after=timezone.now())


def test_a_job_is_done_and_its_value_can_be_asked_for(work, ended):
    result = odd_jobs.add.enqueue(2, b=3)
    assert result.status == TaskResultStatus.READY
    work()
    result.refresh()
    assert result.status == TaskResultStatus.SUCCESSFUL
    assert result.return_value == 5
    assert result.attempts == 1
    assert [one.id for one in ended] == [result.id]


def test_a_job_knows_which_attempt_it_is(work):
    result = odd_jobs.which_attempt.enqueue()
    work()
    assert odd_jobs.which_attempt.get_result(result.id).return_value == 1


def test_there_is_no_result_for_a_job_that_never_was(db):
    for unknown in ["12345", "no number"]:
        with pytest.raises(TaskResultDoesNotExist):
            odd_jobs.add.get_result(unknown)


def test_a_job_belongs_to_the_transaction_of_its_rows(db):
    class NoRoom(Exception):
        pass

    def receive():
        with transaction.atomic():
            odd_jobs.add.enqueue(1, 2)
            raise NoRoom

    with pytest.raises(NoRoom):
        receive()
    assert not Job.objects.exists()


def test_a_failing_job_is_tried_three_times_with_pauses_and_keeps_its_reasons(work, ended):
    result = odd_jobs.fail.enqueue("no such tag")
    for attempt in range(1, ATTEMPTS + 1):
        work()
        assert Job.objects.get().attempts == attempt
        work()  # not due yet
        assert Job.objects.get().attempts == attempt
        make_all_due()
    result.refresh()
    assert result.status == TaskResultStatus.FAILED
    assert [one.exception_class for one in result.errors] == [ValueError] * ATTEMPTS
    assert "no such tag" in result.errors[-1].traceback
    assert [one.id for one in ended] == [result.id]  # announced once, when it is given up


def test_one_failing_job_does_not_hold_up_the_next(work):
    odd_jobs.fail.enqueue("first")
    good = odd_jobs.add.enqueue(1, 1)
    work()
    assert odd_jobs.add.get_result(good.id).return_value == 2


def test_urgent_jobs_come_first_and_later_ones_wait(work, tmp_path):
    notes = str(tmp_path / "notes")
    odd_jobs.note.enqueue(notes, "plain")
    odd_jobs.note.using(priority=10).enqueue(notes, "urgent")
    odd_jobs.note.using(run_after=timezone.now() + timedelta(hours=1)).enqueue(notes, "later")
    work()
    assert (tmp_path / "notes").read_text().split() == ["urgent", "plain"]


def test_a_worker_that_slept_past_its_lease_changes_nothing(db):
    odd_jobs.add.enqueue(1, 1)
    sleeper = Job.objects.claim("sleeper")
    assert Job.objects.claim("other") is None  # leased
    let_the_leases_run_out()
    other = Job.objects.claim("other")
    assert other.attempts == 2
    assert not sleeper.renew()
    assert not sleeper.finish("stale")
    assert not sleeper.stumble(["builtins.ValueError", "stale"])
    assert not sleeper.release()
    assert other.finish("fresh")
    assert Job.objects.get().value == "fresh"


def test_a_job_that_hangs_ends_its_worker(transactional_db, monkeypatch):
    left = threading.Event()
    monkeypatch.setattr(lease.os, "_exit", lambda code: (left.set(), held.done.set()))
    monkeypatch.setattr(lease, "LEASE", timedelta(seconds=0.03))
    odd_jobs.add.enqueue(1, 1)
    with lease.Holding(Job.objects.claim("hanging"), longest_s=0.05) as held:
        assert left.wait(10)


def test_finished_jobs_are_forgotten_after_a_week(work):
    odd_jobs.add.enqueue(1, 1)
    work()
    Job.objects.prune()
    assert Job.objects.exists()
    Job.objects.update(finished_at=timezone.now() - timedelta(days=8))
    Job.objects.prune()
    assert not Job.objects.exists()


@pytest.mark.slow
def test_a_job_of_a_killed_worker_is_done_by_the_next(worker, tmp_path):
    begun = tmp_path / "begun"
    result = odd_jobs.dawdle_once.enqueue(str(begun))
    with worker() as first:
        wait_for(begun.exists)
        first.send_signal(signal.SIGKILL)
        first.wait()
    assert Job.objects.get().state == Job.State.RUNNING  # nobody said that it ended
    with worker("--once") as early:
        assert early.wait(300) == 0
    assert Job.objects.get().attempts == 1  # the lease still holds
    let_the_leases_run_out()
    with worker("--once") as second:
        assert second.wait(300) == 0
    result.refresh()
    assert result.return_value == "done the second time"
    assert result.attempts == 2


@pytest.mark.slow
def test_a_worker_asked_to_stop_puts_its_job_back(worker, tmp_path):
    begun = tmp_path / "begun"
    odd_jobs.dawdle.enqueue(str(begun))
    with worker() as asked:
        wait_for(begun.exists)
        asked.terminate()
        assert asked.wait(300) == 0
    job = Job.objects.get()
    assert job.state == Job.State.WAITING
    assert job.troubles == []


def test_a_job_that_kills_its_workers_is_given_up_with_the_reason(work, ended):
    """A decoder that takes the process with it leaves no exception, only a lease that ends."""
    result = odd_jobs.add.enqueue(1, 1)
    for attempt in range(1, ATTEMPTS + 1):
        assert Job.objects.claim(f"worker {attempt}").attempts == attempt
        let_the_leases_run_out()
    work()
    result.refresh()
    assert result.status == TaskResultStatus.FAILED
    assert "worker 3 was stopped or hung" in result.errors[-1].traceback
    assert [one.id for one in ended] == [result.id]


def test_the_supervisor_frees_at_once_what_its_dead_worker_held(db):
    odd_jobs.add.enqueue(1, 1)
    odd_jobs.add.enqueue(2, 2)
    dead = Job.objects.claim("house:1")
    living = Job.objects.claim("house:2")
    Job.objects.give_back("house:1")
    assert Job.objects.claim("house:1").pk == dead.pk
    assert living.finish(4)


@pytest.mark.slow
def test_two_workers_share_the_work_and_do_nothing_twice(worker, tmp_path):
    notes = tmp_path / "notes"
    for line in range(60):
        odd_jobs.note.enqueue(str(notes), line)
    connection.close()
    with worker("--once", "--name", "one") as one, worker("--once", "--name", "two") as two:
        assert one.wait(300) == 0
        assert two.wait(300) == 0
    assert sorted(map(int, notes.read_text().split())) == list(range(60))
    assert set(Job.objects.values_list("state", "attempts")) == {(Job.State.DONE, 1)}
    assert {workers[0] for workers in Job.objects.values_list("workers", flat=True)} <= {
        "one",
        "two",
    }

"""What whoever runs the house sees of it: health, readiness, metrics, the page in words, logs."""

import io
import json
import logging
import sys
from datetime import timedelta

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.utils import timezone

from config import logs, metrics, views, wellbeing
from shootlog import backup_notes, store
from shootlog.models import Frame, Job
from tests.frames import make_frame

pytestmark = pytest.mark.django_db


def families(text):
    """Read the exposition format by its own words (prometheus.io, "Text-based format", 0.0.4)."""
    found = {}
    for line in text.splitlines():
        if line.startswith("# "):
            _, word, name, rest = line.split(" ", 3)
            assert word in {"HELP", "TYPE"}
            if word == "TYPE":
                assert rest in {"counter", "gauge", "summary", "histogram", "untyped"}
                found[name] = {}
        else:
            name, _, number = line.rpartition(" ")
            found[name.partition("{")[0]][name] = float(number)
    assert text.endswith("\n")
    return found


def a_read(seconds, ended_ago=timedelta(minutes=5), **columns):
    ended = timezone.now() - ended_ago
    values = {
        "task": "shootlog.jobs.read_frame",
        "state": Job.State.DONE,
        "last_attempted_at": ended - timedelta(seconds=seconds),
        "finished_at": ended,
    }
    return Job.objects.create(**values | columns)


def test_healthy_and_ready(client, settings):
    assert client.get("/health/").content == b"ok\n"
    answer = client.get("/ready/")
    assert (answer.status_code, answer.content) == (200, b"ready\n")


def test_not_ready_says_what_is_amiss(client, monkeypatch, settings):
    settings.KEPT_FREE_BYTES = 1 << 60
    answer = client.get("/ready/")
    assert (answer.status_code, answer.content) == (503, b"the disk is full\n")
    settings.KEPT_FREE_BYTES = 0

    def silent(key):
        raise OSError("unreachable")

    monkeypatch.setattr(store, "holds", silent)
    assert client.get("/ready/").content == b"the store does not answer\n"
    monkeypatch.undo()
    monkeypatch.setattr(views.MigrationExecutor, "migration_plan", lambda self, targets: ["one"])
    assert client.get("/ready/").content == b"the tables are not up to date\n"


def test_metrics_count_what_is_there(client, sam):
    for seconds in range(1, 101):
        a_read(seconds)
    a_read(999, ended_ago=timedelta(hours=2))  # no longer counted
    a_read(5, state=Job.State.FAILED)
    waiting = timezone.now() - timedelta(seconds=90)
    Job.objects.create(task="shootlog.jobs.read_frame", run_after=waiting)
    make_frame(sam)
    make_frame(sam, state=Frame.State.WAITING)
    answer = client.get("/metrics/")
    assert answer["Content-Type"] == "text/plain; version=0.0.4; charset=utf-8"
    found = families(answer.content.decode())
    assert found["wd_jobs"]['wd_jobs{state="waiting"}'] == 1
    assert found["wd_jobs"]['wd_jobs{state="failed"}'] == 1
    assert found["wd_frames"] == {
        'wd_frames{state="ready"}': 1,
        'wd_frames{state="waiting"}': 1,
    }
    assert found["wd_reads_last_hour"]["wd_reads_last_hour"] == 100
    assert found["wd_read_seconds"]['wd_read_seconds{quantile="0.5"}'] == pytest.approx(51)
    assert found["wd_read_seconds"]['wd_read_seconds{quantile="0.95"}'] == pytest.approx(96)
    assert found["wd_jobs_failed_last_hour"]["wd_jobs_failed_last_hour"] == 1
    assert 90 <= found["wd_oldest_due_job_seconds"]["wd_oldest_due_job_seconds"] < 150
    assert found["wd_disk_free_bytes"]["wd_disk_free_bytes"] > 0
    assert "wd_last_backup_timestamp_seconds" not in found  # not known, so not said


def test_an_empty_house_has_numbers_too(db):
    found = families(metrics.as_text(wellbeing.look()))
    assert found["wd_oldest_due_job_seconds"]["wd_oldest_due_job_seconds"] == 0
    assert "wd_read_seconds" not in found


def test_metrics_are_for_this_machine_or_for_who_has_the_token(client, settings):
    assert client.get("/metrics/", REMOTE_ADDR="192.0.2.7").status_code == 404
    assert client.get("/metrics/", HTTP_X_FORWARDED_FOR="192.0.2.7").status_code == 404
    settings.METRICS_TOKEN = "let me"
    assert client.get("/metrics/").status_code == 404
    assert client.get("/metrics/", HTTP_AUTHORIZATION="Bearer let him").status_code == 404
    told = {"HTTP_AUTHORIZATION": "Bearer let me", "REMOTE_ADDR": "192.0.2.7"}
    assert client.get("/metrics/", **told).status_code == 200


def test_the_page_says_it_in_words_to_those_who_may_teach(as_person, ines, sam, arno):
    page = as_person(ines).get("/house/").content.decode()
    assert "None is waiting." in page
    assert "None was made yet." in page
    assert "manage.py backup FILE" in page
    assert "are free" in page
    for other in (sam, arno):
        assert as_person(other).get("/house/").status_code == 404


def test_the_page_says_when_frames_wait_long_and_when_the_last_backup_was(as_person, ines, sam):
    make_frame(sam, state=Frame.State.WAITING)
    a_read(2.0)
    Job.objects.create(task="x", run_after=timezone.now() - timedelta(minutes=10))
    note = {"made_at": timezone.now().isoformat(), "name": "house.zip", "whole": True}
    path = store.disk_path(backup_notes.KEY)
    store.make_folder(path.parent)
    path.write_text(json.dumps(note))
    page = as_person(ines).get("/house/").content.decode()
    assert "1 wait to be read; the next one has waited 60" in page
    assert "half of them in 2.0 seconds or less" in page
    assert f"{timezone.now():%B %Y}" in page
    assert "backup FILE" not in page


def test_logs_as_json_are_one_object_a_line():
    try:
        raise ValueError("no such tag\nin two lines")
    except ValueError:
        record = logging.LogRecord("shootlog", 40, __file__, 1, "%s broke", ("a.jpg",), None)
        record.exc_info = sys.exc_info()
    line = logs.JsonLine().format(record)
    assert "\n" not in line
    told = json.loads(line)
    assert (told["level"], told["logger"], told["words"]) == ("error", "shootlog", "a.jpg broke")
    assert "no such tag" in told["traceback"]


@pytest.mark.django_db
@pytest.mark.parametrize("manner", ["lines", "json"])
def test_a_refusal_is_a_line_with_a_number_and_without_the_secret_of_a_link(client, sam, manner):
    client.force_login(sam)
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    set_up = logs.logging_as(manner, "warning")
    handler.addFilter(logs.Guarded())
    kinds = {"lines": lambda: logging.Formatter(set_up["formatters"]["lines"]["format"], style="{")}
    handler.setFormatter(kinds.get(manner, logs.JsonLine)())
    logger = logging.getLogger("django.request")
    logger.addHandler(handler)
    try:
        client.get("/log/999999/")
        client.get("/feed/a-secret-nobody-else-knows/meetings.ics")
    finally:
        logger.removeHandler(handler)
    first, second = out.getvalue().splitlines()
    assert "/log/999999/" in first
    assert (f"by={sam.pk}" if manner == "lines" else f'"account": {sam.pk}') in first
    assert "/feed/.../meetings.ics" in second
    assert "a-secret" not in out.getvalue()


@pytest.mark.parametrize(("manner", "level"), [("xml", "info"), ("json", "loud")])
def test_a_manner_of_logging_that_is_none_stops_the_start(manner, level):
    with pytest.raises(ImproperlyConfigured, match="WD_LOG"):
        logs.logging_as(manner, level)


@pytest.mark.django_db
def test_who_runs_the_house_finds_the_page_and_others_are_not_sent_there(as_person, ines, sam):
    for page in ("/me/", "/course/"):
        assert 'href="/house/"' in as_person(ines).get(page).content.decode()
        assert 'href="/house/"' not in as_person(sam).get(page).content.decode()

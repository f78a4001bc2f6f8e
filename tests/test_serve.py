"""`serve` as an owner uses it: real processes, killed in every way that happens."""

import os
import re
import signal
import socket
import subprocess
import urllib.request
from pathlib import Path

import pytest

from shootlog.models import Job
from tests.house import environment, manage, url_of_test_database, wait_for
from tests.shootlog import odd_jobs

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="looks at /proc (Linux)"),
]
STOPS_WITHIN_S = 60  # a busy machine takes its time; a quiet one a second


def children_of(pid):
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def is_there(pid):
    """Whether a process runs; one that ended and was not yet buried does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def command_line(pid):
    return Path(f"/proc/{pid}/cmdline").read_text().split("\0")


def child(house, kind):
    """The pid of the web side or of the worker."""
    found = [pid for pid in children_of(house.pid) if kind in command_line(pid)]
    return found[0] if found else None


class Served:
    """A house that is up: where it is, and its process."""

    def __init__(self, process, said):
        self.process, self.said = process, said
        self.pid = process.pid
        self.url = re.search(r"http://127\.0\.0\.1:\d+", said)[0]

    def answers(self):
        try:
            with urllib.request.urlopen(f"{self.url}/health/", timeout=2) as answer:
                return answer.read() == b"ok\n"
        except OSError:
            return False


@pytest.fixture
def env(transactional_db, tmp_path):
    return environment(tmp_path / "data", WD_DATABASE_URL=url_of_test_database(), WD_WORKERS="1")


@pytest.fixture
def house(env, tmp_path):
    said = tmp_path / "said"
    with said.open("w") as out:
        with manage("serve", "--port", "0", env=env, stdout=out, stderr=out) as process:

            def up():
                assert process.poll() is None, said.read_text()
                return "Working Distance is at" in said.read_text()

            wait_for(up, within_s=120)
            served = Served(process, said.read_text())
            family = children_of(process.pid)
            yield served
            family += children_of(process.pid) if process.poll() is None else []
        wait_for(lambda: not any(map(is_there, family)), within_s=STOPS_WITHIN_S)


def test_it_answers_and_says_where_and_what_to_do_first(house):
    assert house.answers()
    assert "Nobody has an account yet" in house.said
    assert "first/?key=" not in house.said  # only this machine reaches it
    assert len(children_of(house.pid)) == 2


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_asked_to_stop_it_stops_all_of_it(house, number):
    family = children_of(house.pid)
    house.process.send_signal(number)
    assert house.process.wait(STOPS_WITHIN_S) == 0
    assert not any(map(is_there, family))
    assert not house.answers()


def test_killed_itself_it_leaves_nothing_behind(house):
    family = children_of(house.pid)
    house.process.kill()
    wait_for(lambda: not any(map(is_there, family)), within_s=STOPS_WITHIN_S)


def test_a_killed_web_side_comes_back_at_the_same_address(house):
    os.kill(child(house, "web"), signal.SIGKILL)
    wait_for(lambda: child(house, "web"))
    wait_for(house.answers)


def test_a_killed_worker_comes_back_and_its_job_is_done(house, tmp_path):
    begun = tmp_path / "begun"
    result = odd_jobs.dawdle_once.enqueue(str(begun))
    wait_for(begun.exists)
    os.kill(child(house, "work"), signal.SIGKILL)

    def done():
        return Job.objects.get(pk=result.id).state == Job.State.DONE

    wait_for(done, within_s=55)  # less than a lease: its supervisor knows that it is gone
    assert Job.objects.get(pk=result.id).attempts == 2


def test_workers_step_back_for_the_pages(house):
    worker = child(house, "work")
    assert os.getsid(worker) == worker  # a session of its own, or its weight is the terminal's
    assert os.getpriority(os.PRIO_PROCESS, worker) >= 10
    weight = Path(f"/proc/{worker}/autogroup")
    if not weight.exists():
        pytest.skip("this kernel does not weigh sessions")
    assert "nice 19" in weight.read_text()


def test_a_taken_port_is_said_in_words_before_anything_is_done(env, tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        words = ["serve", "--port", port]
        with manage(*words, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
            _, said = process.communicate(timeout=120)
    assert process.returncode == 1
    assert f"Port {port} on 127.0.0.1 is taken" in said.decode()
    assert "Traceback" not in said.decode()
    assert not (tmp_path / "data" / "static").exists()

"""Several machines, some of which go: `tests/many_hosts.py` as a test, and its parts alone."""

import json
import subprocess
import sys

import pytest

from tests import hosts, load
from tests.frames import jpeg
from tests.house import BASE
from tests.many_hosts import told


def test_a_picture_sent_by_many_stays_one_with_other_bytes():
    first = jpeg()
    one, two = load.another(first), load.another(first)
    assert len({first, one, two}) == 3
    from shootlog.intake.sniff import sniff

    assert sniff(one) == sniff(first) is not None


def test_what_was_promised_and_is_not_there_is_counted():
    there = {
        "frames": {"a": "ready", "b": "ready"},
        "reads": [(1, "done", 1, "work1"), (2, "done", 2, "work2"), (2, "done", 1, "work1")],
    }
    found = told([{"sha256": "a"}, {"sha256": "lost"}], there, "")
    assert found["frames lost"] == ["lost"]
    assert found["frames with more or less than one read"] == 1
    assert found["reads begun again"] == 1


def test_a_cable_can_be_pulled():
    if hosts.why_not():
        pytest.skip(hosts.why_not())
    try:
        with hosts.net() as net:
            one, two = net.host("one"), net.host("two")
            asks = [sys.executable, "-c", REACHES.format(address=two.address)]
            listens = two.start(sys.executable, "-c", LISTENS.format(address=two.address))
            assert one.run(*asks).returncode == 0
            two.pull_the_cable()
            assert one.run(*asks).returncode != 0
            two.plug_it_in()
            assert one.run(*asks).returncode == 0
            two.kill()
            listens.wait()
            assert two.processes() == []
    except hosts.NoHosts as why:
        pytest.skip(str(why))  # a container that may not make namespaces


REACHES = """
import socket, time
for _ in range(50):
    try:
        socket.create_connection(("{address}", 9000), timeout=0.2).close()
        break
    except OSError:
        time.sleep(0.1)
else:
    raise SystemExit(1)
"""
LISTENS = """
import socket
with socket.create_server(("{address}", 9000)) as door:
    while True:
        door.accept()[0].close()
"""


@pytest.mark.slow
def test_one_host_is_cut_off_and_two_are_killed_and_nothing_is_lost():
    if hosts.why_not():
        pytest.skip(hosts.why_not())
    line = [sys.executable, str(BASE / "tests" / "many_hosts.py"), "--seconds", "30"]
    done = subprocess.run([*line, "--people", "4"], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    found = json.loads(done.stdout)
    assert found["frames promised"] > 0
    assert found["frames lost"] == []
    assert "0 lost, 0 not needed" in found["verify"]
    assert len(found["hosts that made the tables"]) == 1

"""A school on several machines: one is cut off and two are killed under load; what is left?

`python tests/many_hosts.py [--seconds 60] [--people 8] [--store swift|moto]` needs root on Linux.
Hosts are network namespaces (`tests/hosts.py`): a PostgreSQL, a store that speaks S3, two that
serve pages, three with a worker each, and one from which people hand frames in. While they do,
one worker's cable is pulled in the midst of a frame, another worker is killed in the midst of
one, and so is a host that serves pages; at the end the cable is plugged in again. Then every
frame that was acknowledged must be there with its SHA-256 and be read, once in effect, and
`verify` must find every row and file in accord.
"""

import argparse
import contextlib
import json
import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import psycopg

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from config import cluster  # noqa: E402
from tests import hosts, swift  # noqa: E402 - run as a file as well
from tests.house import BASE, environment, picture, wait_for  # noqa: E402

PASSWORD = "only between these hosts"
MANAGE = [sys.executable, str(BASE / "manage.py")]
SETTLES_WITHIN_S = 900
MAKE_PEOPLE = """
import json, sys
from django.contrib.auth import get_user_model
from course.models import Person
from shootlog.models.api_token import ApiToken
tokens = []
for number in range(PEOPLE):
    user = get_user_model().objects.create_user(f'person{number}')
    Person.objects.create(user=user, display_name=f'Person {number}')
    tokens.append(ApiToken.objects.make(user, 'load')[1])
print(json.dumps(tokens))
"""
MAKE_BUCKET = "from django.core.files.storage import storages as s; s['default'].bucket.create()"
AT_A_FRAME = """SELECT 1 FROM shootlog_job
    WHERE state = 'running' AND task LIKE '%%read_frame' AND workers->>-1 = %s"""
OPEN = "SELECT count(*) FROM shootlog_job WHERE state IN ('waiting', 'running')"
READS = """SELECT (args->>0)::int, state, attempts, workers->>-1 FROM shootlog_job
    WHERE task LIKE '%%read_frame'"""
FRAMES = "SELECT sha256, state FROM shootlog_frame"


def start_database(host, folder):
    """A cluster of its own that answers on the host's address; as a user that is not root."""
    initdb, pg_ctl = cluster.program("initdb"), cluster.program("pg_ctl")
    if not (initdb and pg_ctl):
        raise hosts.NoHosts("PostgreSQL is not here; on Debian: apt-get install postgresql")
    who = cluster.not_root()
    folder.mkdir()
    os.chown(folder, who["user"], who["group"])
    (folder / "password").write_text(PASSWORD)
    as_it = ["setpriv", f"--reuid={who['user']}", f"--regid={who['group']}", "--clear-groups"]
    data = str(folder / "data")

    def run(*line):
        # the log goes to a file: a server that kept our pipe open would never let us go on
        done = host.run(*as_it, *line, cwd=folder)
        assert done.returncode == 0, done.stdout + done.stderr

    run(initdb, "-D", data, "-U", "wd", "-A", "scram-sha-256", f"--pwfile={folder}/password")
    with (folder / "data" / "pg_hba.conf").open("a") as rules:
        rules.write(f"host all all {hosts.NET}.0/24 scram-sha-256\n")
    manners = f"-k {folder} -c listen_addresses={host.address}"
    run(pg_ctl, "-D", data, "-l", str(folder / "log"), "-w", "-o", manners, "start")
    return f"postgresql://wd:{PASSWORD.replace(' ', '%20')}@{host.address}/postgres"


def start_store(kind, host, folder, said):
    if kind == "swift":
        if not swift.is_here():
            raise hosts.NoHosts(
                f"Swift is not here; on Debian: apt-get install {' '.join(swift.PACKAGES)} - or "
                "--store moto, which checks no signatures and keeps everything in memory"
            )
        return f"{swift.start(host, folder, said)}/house"
    line = [sys.executable, "-m", "moto.server", "-H", host.address, "-p", "8080"]
    host.start(*line, stdout=said, stderr=said)
    return f"s3+http://key:secret@{host.address}:8080/house"


class School:
    """All hosts, and one environment for every part: growth by environment alone."""

    def __init__(self, net, folder, store):
        self.folder = folder
        names = ("database", "store", "web1", "web2", "work1", "work2", "work3", "people")
        self.hosts = {name: net.host(name) for name in names}
        self.said = {name: (folder / f"{name}.log").open("w") for name in names}
        webs = [self.hosts[name] for name in ("web1", "web2")]
        self.urls = [f"http://{host.address}:8000" for host in webs]
        secret = folder / "secret"
        secret.write_text("the same everywhere " * 4)
        self.shared = {
            "WD_DATABASE_URL": start_database(self.hosts["database"], folder / "database"),
            "WD_STORAGE_URL": start_store(store, self.hosts["store"], folder, self.said["store"]),
            "WD_SECRET_KEY_FILE": str(secret),
            "WD_HOSTS": " ".join(host.address for host in webs),
            "OPENBLAS_NUM_THREADS": "1",
        }

    def env(self, name):
        return environment(self.folder / name, **self.shared)

    def start(self, name, *words):
        said = {"stdout": self.said[name], "stderr": self.said[name]}
        return self.hosts[name].start(*MANAGE, *words, env=self.env(name), cwd=BASE, **said)

    def run(self, name, *words):
        done = self.hosts[name].run(*MANAGE, *words, env=self.env(name), cwd=BASE)
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def shell(self, code, name="web1"):
        return self.run(name, "shell", "-v", "0", "-c", code)

    def ask(self, question, *values):
        """Ask the database past the hosts, through its socket in a folder."""
        folder = str(self.folder / "database")
        with psycopg.connect(host=folder, user="wd", password=PASSWORD, dbname="postgres") as line:
            return line.execute(question, values or None).fetchall()

    def open_the_doors(self):
        """Both pages' hosts start at once, each wanting to make the tables: one does."""
        serve = ("serve", "--host", "0.0.0.0", "--workers", "0")
        for name in ("web1", "web2"):
            self.start(name, *serve)
        for url in self.urls:
            line = [sys.executable, "-c", f"import urllib.request as u; u.urlopen('{url}/health/')"]
            wait_for(lambda line=line: self.hosts["people"].run(*line).returncode == 0, 180)
        self.shell(MAKE_BUCKET)
        for name in ("work1", "work2", "work3"):
            self.start(name, "work", "--name", name)

    def in_the_midst(self, name):
        """Wait until this host's worker is at a frame."""
        wait_for(lambda: self.ask(AT_A_FRAME, name), 180)


def hand_in(school, people):
    """Let people hand frames in; return the process, what ends it and where it says what it was
    promised.
    """
    told = {
        "urls": school.urls,
        "tokens": json.loads(school.shell(MAKE_PEOPLE.replace("PEOPLE", str(people)))),
        "picture": str(school.folder / "picture.jpg"),
        "seconds": 3600,
        "stop": str(school.folder / "stop"),
        "patience_s": 15,
        "pause_s": 1,
    }
    Path(told["picture"]).write_bytes(picture(2400, 1600))
    listed = school.folder / "told.json"
    listed.write_text(json.dumps(told))
    promised = school.folder / "promised"
    line = [sys.executable, str(BASE / "tests" / "load.py"), str(listed)]
    with promised.open("w") as out:
        load = school.hosts["people"].start(*line, stdout=out, stderr=school.said["people"])
    return load, Path(told["stop"]), promised


def run(folder, *, seconds, people, store):
    began = time.monotonic()
    happened = []

    def note(words):
        happened.append(f"{time.monotonic() - began:5.0f} s  {words}")
        print(happened[-1], file=sys.stderr, flush=True)

    with hosts.net() as net, contextlib.ExitStack() as at_the_end:
        school = School(net, folder, store)
        at_the_end.callback(lambda: [file.close() for file in school.said.values()])
        school.open_the_doors()
        note("all hosts are up")
        load, stop, promised = hand_in(school, people)
        time.sleep(seconds / 4)
        school.in_the_midst("work1")
        school.hosts["work1"].pull_the_cable()
        note("work1 is cut off in the midst of a frame")
        school.in_the_midst("work2")
        school.hosts["work2"].kill()
        note("work2 is killed in the midst of a frame")
        time.sleep(seconds / 4)
        school.hosts["web2"].kill()
        note("web2 is killed while people send")
        time.sleep(seconds / 4)
        school.hosts["work1"].plug_it_in()
        note("work1's cable is back")
        time.sleep(seconds / 4)
        stop.touch()
        load.wait()
        note("everybody has handed in")
        with contextlib.suppress(AssertionError):
            wait_for(lambda: school.ask(OPEN) == [(0,)], SETTLES_WITHIN_S)
        there = {"reads": school.ask(READS), "frames": dict(school.ask(FRAMES))}
        note(f"{school.ask(OPEN)[0][0]} jobs are open")
        verified = school.run("web1", "verify").splitlines()[-1]
        lines = [json.loads(line) for line in promised.read_text().splitlines()]
        troubles = lines.pop()["troubles"]
        steps = [f for f in ("web1", "web2") if "steps)" in (folder / f"{f}.log").read_text()]
    return told(lines, there, verified) | {
        "unanswered and sent again": troubles,
        "hosts that made the tables": steps,
        "what happened": happened,
        "load of this machine": os.getloadavg()[0],
    }


def told(promised, there, verified):
    """Compare what was promised with what is there."""
    reads = there["reads"]
    done = Counter(frame for frame, state, _, _ in reads if state == "done")
    return {
        "frames promised": len(promised),
        "frames lost": sorted({one["sha256"] for one in promised} - set(there["frames"])),
        "frames by state": dict(Counter(there["frames"].values())),
        "frames with more or less than one read": sum(
            done[frame] != 1 for frame in {frame for frame, *_ in reads}
        ),
        "reads begun again": sum(attempts > 1 for _, _, attempts, _ in reads),
        "reads by host": dict(Counter(host for *_, host in reads)),
        "verify": verified,
    }


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--people", type=int, default=8)
    parser.add_argument("--store", choices=["swift", "moto"])
    parser.add_argument("--keep", action="store_true", help="keep the hosts' logs")
    asked = parser.parse_args()
    store = asked.store or ("swift" if swift.is_here() else "moto")
    folder = Path(tempfile.mkdtemp(prefix="wd-hosts-"))
    folder.chmod(0o755)  # the database runs as another user
    try:
        found = run(folder, seconds=asked.seconds, people=asked.people, store=store)
    except hosts.NoHosts as why:
        sys.exit(str(why))
    finally:
        if not asked.keep:
            shutil.rmtree(folder, ignore_errors=True)
    print(json.dumps(found | {"store": store}, indent=1))
    lost = found["frames lost"] or found["frames with more or less than one read"]
    sys.exit(bool(lost or set(found["frames by state"]) != {"ready"}))


if __name__ == "__main__":
    main()

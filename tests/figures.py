"""Figures by the clock: `python tests/figures.py uploads|reads|jobs|pages|everything [--postgres]`.

Each makes a house of its own in a temporary folder, on SQLite or on a private PostgreSQL, prints
one JSON object and cleans up. The clock depends on what else the machine does, so the load average
is printed with every figure: run them where nothing else runs. `tests/sizing.py` counts processor
seconds instead.
"""

import argparse
import contextlib
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from config import cluster, serving  # noqa: E402
from tests.house import BASE, environment, manage, picture, wait_for  # noqa: E402
from tests.many_hosts import MAKE_PEOPLE  # noqa: E402 - run as a file

LONGEST_READ_S = 1500

TAKE_IN = """
import io
from django.contrib.auth import get_user_model
from course.models import Person
from shootlog.intake.receive import receive
from shootlog.models import Job
from tests.load import another
user = get_user_model().objects.create_user('sam')
Person.objects.create(user=user, display_name='Sam')
data = open(PICTURE, 'rb').read()
for n in range(FRAMES):
    receive(io.BytesIO(another(data)), owner=user, name=f'{n}.jpg')
Job.objects.all().delete()
"""
ASK_AGAIN = """
from shootlog.jobs import read_frame
from shootlog.models import Frame, Job
Job.objects.all().delete()
for pk in Frame.objects.values_list('pk', flat=True):
    read_frame.enqueue(pk)
"""
NOTHING = "tests.shootlog.odd_jobs.add"
EMPTY = """
from tests.shootlog import odd_jobs
from shootlog.models import Job
Job.objects.all().delete()
for n in range(JOBS):
    odd_jobs.add.enqueue(n, n)
"""
OPEN = "from shootlog.models import Job as J; print(J.objects.filter(finished_at=None).count())"
TOOK = """
import json
from shootlog.jobs import read_frame
from shootlog.models import Job
rows = Job.objects.filter(task=read_frame.module_path)
print(json.dumps([[r.started_at.timestamp(), r.finished_at.timestamp(), r.state] for r in rows]))
"""
FURNISH = """
import json
from django.test import Client
from config.benches import pages
addresses, people = pages.furnish(FRAMES)
cookies = {}
for name, user in people.items():
    client = Client()
    client.force_login(user)
    cookies[name] = client.cookies['sessionid'].value
print(json.dumps([addresses, cookies]))
"""


class House:
    def __init__(self, folder, url):
        more = {"WD_DATABASE_URL": url} if url else {}
        self.env = environment(folder, OPENBLAS_NUM_THREADS="1", **more)
        self.run("prepare")

    def run(self, *words):
        line = [sys.executable, "manage.py", *words]
        done = subprocess.run(line, env=self.env, cwd=BASE, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def shell(self, code, **values):
        for name, value in values.items():
            code = code.replace(name, repr(value))
        return self.run("shell", "-v", "0", "-c", code)


@contextlib.contextmanager
def house(postgres):
    with contextlib.ExitStack() as stack:
        folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="wd-figures-"))
        url = stack.enter_context(cluster.private_cluster(durable=True)) if postgres else None
        yield House(Path(folder) / "data", url), Path(folder)


def share(values, part):
    ordered = sorted(values)
    return ordered[min(int(part * len(ordered)), len(ordered) - 1)]


def free_port():
    with serving.listen("127.0.0.1", 0) as door:
        return door.getsockname()[1]


def uploads(asked):
    """Frames taken in per minute while so many people send one after another without a pause."""
    with house(asked.postgres) as (ours, folder):
        (folder / "a.jpg").write_bytes(picture(6000, 4000, quality=asked.quality))
        megabytes = round((folder / "a.jpg").stat().st_size / 1e6, 1)
        port = free_port()
        words = ("serve", "--port", port, "--workers", asked.workers)
        with manage(*words, env=ours.env, stdout=subprocess.DEVNULL) as serve:
            wait_for(lambda: serving.answers(port), 120)
            told = {
                "urls": [f"http://127.0.0.1:{port}"],
                "tokens": json.loads(ours.shell(MAKE_PEOPLE, PEOPLE=asked.clients)),
                "picture": str(folder / "a.jpg"),
                "seconds": asked.seconds,
                "patience_s": 120,
                "pause_s": asked.pause,
            }
            (folder / "told.json").write_text(json.dumps(told))
            line = [sys.executable, str(BASE / "tests" / "load.py"), str(folder / "told.json")]
            began = time.monotonic()
            done = subprocess.run(line, capture_output=True, text=True, check=True)
            took = time.monotonic() - began
            serve.terminate()
            serve.wait(300)
        lines = [json.loads(line) for line in done.stdout.splitlines()]
        troubles = lines.pop()["troubles"]
        times = [line["s"] for line in lines]
    return {
        "people": asked.clients,
        "pause between two frames": asked.pause,
        "workers beside it": asked.workers,
        "megabytes a frame": megabytes,
        "frames": len(times),
        "frames a minute": round(60 * len(times) / took, 1),
        "p50 s": round(share(times, 0.5), 2),
        "p95 s": round(share(times, 0.95), 2),
        "slowest s": round(max(times), 2),
        "not answered": troubles,
    }


def reads(asked):
    """Frames of 24 megapixels read per minute by 1, 2 and 4 workers, from first begun to last."""
    rates = {count: [] for count in asked.workers_of}
    with house(asked.postgres) as (ours, folder):
        (folder / "a.jpg").write_bytes(picture(6000, 4000))
        ours.shell(TAKE_IN, PICTURE=str(folder / "a.jpg"), FRAMES=asked.frames)
        for count in asked.workers_of * asked.rounds:
            ours.shell(ASK_AGAIN)
            with contextlib.ExitStack() as workers:
                for _ in range(count):
                    workers.enter_context(manage("work", env=ours.env))
                wait_for(lambda: int(ours.shell(OPEN)) == 0, LONGEST_READ_S)
            rows = json.loads(ours.shell(TOOK))
            assert {state for *_, state in rows} == {"done"}, rows
            took = max(end for _, end, _ in rows) - min(start for start, *_ in rows)
            rates[count].append(60 * len(rows) / took)
    middle = {count: statistics.median(found) for count, found in rates.items()}
    return {
        "frames": asked.frames,
        "rounds": asked.rounds,
        "frames a minute": {count: round(rate, 1) for count, rate in middle.items()},
        "against one worker": {c: round(rate / middle[1], 2) for c, rate in middle.items()},
    }


def jobs(asked):
    """Empty jobs done per minute by 1, 2 and 4 workers: what handing out costs."""
    rates = {}
    with house(asked.postgres) as (ours, _):
        for count in asked.workers_of:
            ours.shell(EMPTY, JOBS=asked.jobs)
            with contextlib.ExitStack() as workers:
                for _ in range(count):
                    workers.enter_context(manage("work", env=ours.env))
                wait_for(lambda: int(ours.shell(OPEN)) == 0, LONGEST_READ_S)
            rows = json.loads(ours.shell(TOOK.replace("read_frame.module_path", repr(NOTHING))))
            took = max(end for _, end, _ in rows) - min(start for start, *_ in rows)
            rates[count] = round(60 * len(rows) / took)
    return {"jobs": asked.jobs, "jobs a minute": rates}


def pages(asked):
    """How long pages take over HTTP in a house of 100,000 frames, asked one after another."""
    with house(asked.postgres) as (ours, _):
        addresses, cookies = json.loads(ours.shell(FURNISH, FRAMES=asked.frames))
        port = free_port()
        times = {name: [] for name in addresses}
        with manage("web", "--port", port, env=ours.env, stdout=subprocess.DEVNULL):
            wait_for(lambda: serving.answers(port), 120)
            for count in range(asked.rounds + 1):
                for name, (who, address) in addresses.items():
                    request = urllib.request.Request(f"http://127.0.0.1:{port}{address}")
                    request.add_header("Cookie", f"sessionid={cookies[who]}")
                    began = time.perf_counter()
                    with urllib.request.urlopen(request, timeout=60) as answer:
                        answer.read()
                        assert answer.url.endswith(address), answer.url  # nobody was sent away
                    if count:  # the first of each is not counted
                        times[name].append((time.perf_counter() - began) * 1000)
    everything = [each for found in times.values() for each in found]
    return {
        "frames": asked.frames,
        "rounds": asked.rounds,
        "p95 ms of all": round(share(everything, 0.95)),
        "ms (p50, p95)": {n: [round(share(f, p)) for p in (0.5, 0.95)] for n, f in times.items()},
    }


TABLE = Path(BASE / "SIZING.md")
BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"


def everything(asked):
    """All of it on both databases, one after another; the table in SIZING.md is written anew."""
    rows = ["| by the clock | SQLite | PostgreSQL | load average |", "|---|---|---|---|"]
    found = {}
    for what in (uploads, reads, pages):
        both, loads = [], []
        for postgres in (False, True):
            one, load = measured(what, argparse.Namespace(**DEFAULTS[what], postgres=postgres))
            both.append(one)
            loads.append(max(load))
            print(json.dumps(one), file=sys.stderr, flush=True)
        found[what.__name__] = both
        for words, *values in zip(*(IN_WORDS[what](one) for one in both), strict=True):
            told = [value for _, value in (words, *values)]
            rows.append(f"| {words[0]} | {' | '.join(told)} | {max(loads):g} |")
        write_table(rows)
    return found


def write_table(rows):
    text = TABLE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    after = rest.partition(END)[2]
    TABLE.write_text("\n".join([f"{before}{BEGIN}", *rows, f"{END}{after}"]), encoding="utf-8")


def uploads_in_words(one):
    people, mb = one["people"], one["megabytes a frame"]
    return [
        (f"frames of {mb} MB taken in a minute, {people} people without a pause",
         f"{one['frames a minute']:g}"),
        ("their waiting, p50 and p95", f"{one['p50 s']:g} s and {one['p95 s']:g} s"),
    ]  # fmt: skip


def reads_in_words(one):
    rates, ratios = one["frames a minute"], one["against one worker"]
    return [
        (f"frames of 24 megapixels read a minute, {count} worker{'s' * (count > 1)}",
         f"{rates[count]:g} ({ratios[count]:g} times one)")
        for count in rates
    ]  # fmt: skip


def pages_in_words(one):
    pages = one["ms (p50, p95)"].items()
    return [
        (f"seven pages with {one['frames']:,} frames, p95 of all", f"{one['p95 ms of all']} ms")
    ] + [
        (f"the page *{name}*, p50 and p95", f"{middle} ms and {most} ms")
        for name, (middle, most) in pages
    ]


IN_WORDS = {uploads: uploads_in_words, reads: reads_in_words, pages: pages_in_words}
DEFAULTS = {
    uploads: {"clients": 50, "seconds": 60, "workers": 2, "quality": 60, "pause": 0.0},
    reads: {"frames": 24, "rounds": 2, "workers_of": [1, 2, 4]},
    jobs: {"jobs": 500, "workers_of": [1, 2, 4]},
    pages: {"frames": 100_000, "rounds": 40},
    everything: {},
}


def measured(what, asked):
    before = os.getloadavg()[0]
    found = what(asked)
    return found, [round(before, 1), round(os.getloadavg()[0], 1)]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    kinds = parser.add_subparsers(required=True)
    for what, options in DEFAULTS.items():
        kind = kinds.add_parser(what.__name__, help=what.__doc__)
        kind.set_defaults(what=what, workers_of=options.get("workers_of"))
        kind.add_argument("--postgres", action="store_true", help="on a private PostgreSQL")
        for name, value in options.items():
            if not isinstance(value, list):
                kind.add_argument(f"--{name}", type=type(value), default=value)
    asked = parser.parse_args()
    try:
        found, load = measured(asked.what, asked)
    except cluster.NoCluster as why:
        sys.exit(str(why))
    if asked.what is not everything:
        found["database"] = "PostgreSQL" if asked.postgres else "SQLite"
    found["load average before and after"] = load
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main()

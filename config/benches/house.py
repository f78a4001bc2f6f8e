"""What background work costs, and what it costs the pages (two goals of this house)."""

import os
import signal
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from django.conf import settings
from django_tasks import task

from config import measuring, serving
from config.benches.pixels import in_a_fresh_process

ROUNDS, PAGES = 16, 25  # pages in a row with the workers stopped, then with them at work


@task
def work_on_pixels(path, seconds, begun):
    """Look at one frame over and over, in the child that reads files; return frames a second.

    A file in the folder ``begun`` says that all is loaded and the work goes on.
    """
    from shootlog.intake.cage import look_in_cage

    look_in_cage(Path(path), name="frame.jpg")
    (Path(begun) / str(os.getpid())).touch()
    began, done = time.monotonic(), 0
    while time.monotonic() - began < seconds:
        look_in_cage(Path(path), name="frame.jpg")
        done += 1
    return done / (time.monotonic() - began)


def environment(folder):
    dropped = {"WD_DATABASE_URL", "WD_DATA"}
    kept = {key: value for key, value in os.environ.items() if key not in dropped}
    return kept | {"WD_DATA": folder}


def manage(env, *words):
    line = [sys.executable, str(settings.BASE_DIR / "manage.py"), *words]
    return subprocess.Popen(line, env=env, start_new_session=True, stdin=subprocess.DEVNULL)


def ask(port):
    began = time.perf_counter()
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/sign-in/") as answer:
        answer.read()
    return (time.perf_counter() - began) * 1000


def page_beside_workers():
    """The sign-in page's p95 while two workers are busy, against the same with them stopped.

    In turn, some pages each way: a machine is seldom the same from one minute to the next.
    """
    return in_a_fresh_process(24, _measure_pages)


def _measure_pages(path):
    with tempfile.TemporaryDirectory() as folder:
        env = environment(folder)
        manage(env, "migrate", "--verbosity", "0").wait()
        manage(env, "collectstatic", "--verbosity", "0", "--no-input").wait()
        with serving.listen("127.0.0.1", 0) as free:
            port = free.getsockname()[1]
        web = manage(env, "web", "--port", str(port))
        workers = []
        try:
            while not serving.answers(port):
                time.sleep(0.1)
            begun = ask_for_work(env, path, 600, 2)
            workers = [manage(env, "work") for _ in range(2)]
            while len(list(begun.iterdir())) < len(workers):
                time.sleep(0.1)
            weights = [weight_of(worker.pid) for worker in workers]
            idle, busy = [], []
            for _ in range(ROUNDS):
                for times, sign in ((idle, signal.SIGSTOP), (busy, signal.SIGCONT)):
                    for worker in workers:
                        os.killpg(worker.pid, sign)  # its child too
                    time.sleep(0.2)
                    ask(port)
                    times += [ask(port) for _ in range(PAGES)]
        finally:
            for process in [web, *workers]:
                process.terminate()
            for process in [web, *workers]:
                process.wait()
    p95 = [measuring.percentile(times, 0.95) for times in (idle, busy)]
    return {
        "ratio": round(p95[1] / p95[0], 3),
        "against": "the page's p95 with the workers stopped",
        "goal": 1.25,
        "n": len(busy),
        "spread": round(measuring.spread(busy) / statistics.median(busy), 3),
        "idle_p95_ms": round(p95[0], 2),
        "busy_p95_ms": round(p95[1], 2),
        "idle_median_ms": round(statistics.median(idle), 2),
        "busy_median_ms": round(statistics.median(busy), 2),
        "weights": weights,
    }


def weight_of(process):
    """What the system says of a process's session; None where it does not weigh sessions."""
    try:
        return Path(f"/proc/{process}/autogroup").read_text().split(" ", 1)[1].strip()
    except (OSError, IndexError):
        return None


def ask_for_work(env, path, seconds, count):
    """Put so many jobs of so many seconds in line; return the folder that says which began."""
    begun = Path(tempfile.mkdtemp(dir=env["WD_DATA"]))
    words = f"{str(path)!r}, {seconds}, {str(begun)!r}"
    burn = (
        "from config.benches.house import work_on_pixels as w; from shootlog.models import Job; "
        f"Job.objects.all().delete(); [w.enqueue({words}) for _ in range({count})]"
    )
    manage(env, "shell", "--verbosity", "0", "--command", burn).wait()
    return begun


def two_workers():
    """Frames a second of two worker processes, against one."""
    return in_a_fresh_process(24, _measure_workers)


def _measure_workers(path):
    with tempfile.TemporaryDirectory() as folder:
        env = environment(folder)
        manage(env, "migrate", "--verbosity", "0").wait()
        rates = {1: [], 2: []}
        for _ in range(3):
            for count in rates:
                rates[count].append(frames_in(env, path, count, 8))
    ratios = [two / one for one, two in zip(rates[1], rates[2], strict=True)]
    return {
        "ratio": round(statistics.median(ratios), 3),
        "against": "one worker",
        "goal": 1.9,
        "n": len(ratios),
        "spread": round((max(ratios) - min(ratios)) / 2, 3),
        "frames_a_second": round(statistics.median(rates[2]), 2),
    }


def frames_in(env, path, count, seconds):
    """Let so many workers do one job each of so many seconds; return the frames a second of all."""
    ask_for_work(env, path, seconds, count)
    workers = [manage(env, "work", "--once") for _ in range(count)]
    for process in workers:
        process.wait()
    tally = (
        "from shootlog.models import Job; print(sum(Job.objects.values_list('value', flat=True)))"
    )
    line = [sys.executable, "manage.py", "shell", "--verbosity", "0", "--command", tally]
    return float(subprocess.check_output(line, env=env, cwd=settings.BASE_DIR))


BENCHES = {"page-beside-workers": page_beside_workers, "two-workers": two_workers}

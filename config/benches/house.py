"""What background work costs, and what it costs the pages (two goals of this house)."""

import io
import os
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request

from django.conf import settings
from django_tasks import task

from config import measuring, serving

FRAME_PX = (3000, 2000)
FRAMES = 24
PAGES = 200


def picture():
    """A frame with detail everywhere, the same each time."""
    import numpy
    from PIL import Image

    noise = numpy.random.default_rng(1).integers(0, 255, (FRAME_PX[1], FRAME_PX[0], 3), "uint8")
    file = io.BytesIO()
    Image.fromarray(noise).save(file, "JPEG", quality=60)
    return file.getvalue()


@task
def work_on_pixels(seconds):
    """Decode and square as reading a frame does; stands in for it with no files involved."""
    import numpy
    from PIL import Image

    frame = picture()
    until = time.monotonic() + seconds
    done = 0
    while time.monotonic() < until:
        luma = numpy.asarray(Image.open(io.BytesIO(frame)).convert("L"), dtype="int16")
        int((luma[1:] - luma[:-1]).astype("int32").var())
        done += 1
    return done


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
    """The sign-in page's p95 while two workers are busy, against the same with none."""
    with tempfile.TemporaryDirectory() as folder:
        env = environment(folder)
        manage(env, "migrate", "--verbosity", "0").wait()
        manage(env, "collectstatic", "--verbosity", "0", "--no-input").wait()
        with serving.listen("127.0.0.1", 0) as free:
            port = free.getsockname()[1]
        web = manage(env, "web", "--port", str(port))
        burn = (
            "from config.benches.house import work_on_pixels as w; w.enqueue(600); w.enqueue(600)"
        )
        workers = []
        try:
            while not serving.answers(port):
                time.sleep(0.1)
            [ask(port) for _ in range(50)]
            idle = [ask(port) for _ in range(PAGES)]
            manage(env, "shell", "--verbosity", "0", "--command", burn).wait()
            workers = [manage(env, "work") for _ in range(2)]
            time.sleep(6)  # until both have their job
            busy = [ask(port) for _ in range(PAGES)]
        finally:
            for process in [web, *workers]:
                process.terminate()
            for process in [web, *workers]:
                process.wait()
    p95 = [measuring.percentile(times, 0.95) for times in (idle, busy)]
    return {
        "ratio": round(p95[1] / p95[0], 3),
        "against": "the page's p95 with no worker busy",
        "n": PAGES,
        "spread": round(measuring.spread(busy) / statistics.median(busy), 3),
        "idle_p95_ms": round(p95[0], 2),
        "busy_p95_ms": round(p95[1], 2),
        "busy_median_ms": round(statistics.median(busy), 2),
    }


def two_workers():
    """Frames a second of two worker processes, against one."""
    with tempfile.TemporaryDirectory() as folder:
        env = environment(folder)
        manage(env, "migrate", "--verbosity", "0").wait()
        rates = {1: [], 2: []}
        for _ in range(3):
            for count in rates:
                rates[count].append(frames_in(env, count, 4))
    ratios = [two / one for one, two in zip(rates[1], rates[2], strict=True)]
    return {
        "ratio": round(statistics.median(ratios), 3),
        "against": "one worker",
        "n": len(ratios),
        "spread": round((max(ratios) - min(ratios)) / 2, 3),
    }


def frames_in(env, count, seconds):
    """Let so many workers do one job each of so many seconds; return the frames of all."""
    burn = (
        "from config.benches.house import work_on_pixels as w; from shootlog.models import Job; "
        f"Job.objects.all().delete(); [w.enqueue({seconds}) for _ in range({count})]"
    )
    manage(env, "shell", "--verbosity", "0", "--command", burn).wait()
    workers = [manage(env, "work", "--once") for _ in range(count)]
    for process in workers:
        process.wait()
    tally = (
        "from shootlog.models import Job; print(sum(Job.objects.values_list('value', flat=True)))"
    )
    line = [sys.executable, "manage.py", "shell", "--verbosity", "0", "--command", tally]
    return int(subprocess.check_output(line, env=env, cwd=settings.BASE_DIR))


BENCHES = {"page-beside-workers": page_beside_workers, "two-workers": two_workers}

"""What one frame's pixels cost, against a bare decode of the same file."""

import functools
import io
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from django.conf import settings

from config import measuring
from shootlog.intake.cage import ONE_THREAD

SEED = 7
AGAINST = "one full decode of the same file by Pillow"
SIZES = {24: (6000, 4000), 60: (9504, 6336)}


def frame(megapixels):
    """A frame like a close-up: leaves over leaves, sharp in one band, grain everywhere."""
    import numpy as np
    from PIL import Image, ImageDraw, ImageFilter

    width, height = SIZES[megapixels]
    rng = np.random.default_rng(SEED)
    picture = Image.new("RGB", (width, height), (120, 110, 90))
    draw = ImageDraw.Draw(picture)
    count = width * height // 6000
    radii = np.sort(np.clip(4 * (1 - rng.random(count)) ** -0.6, 4, height / 6))[::-1]
    places = rng.random((count, 2)) * (width, height)
    colours = rng.integers(10, 245, (count, 3)).tolist()
    for (x, y), r, colour in zip(places, radii, colours, strict=True):
        draw.ellipse((x - r, y - r, x + r, y + r), fill=tuple(colour))
    edges = np.linspace(0, height, 9).astype(int)
    for k, (top, bottom) in enumerate(zip(edges[:-1], edges[1:], strict=True)):
        radius = abs(k - 3.5) * 5 - 2.5
        if radius > 0.5:
            margin = int(3 * radius)
            first, last = max(top - margin, 0), min(bottom + margin, height)
            band = picture.crop((0, first, width, last)).filter(ImageFilter.BoxBlur(radius))
            picture.paste(band.crop((0, top - first, width, bottom - first)), (0, top))
    values = np.array(picture)
    for top in range(0, height, 256):
        strip = values[top : top + 256]
        grain = rng.standard_normal(strip.shape, dtype=np.float32) * 4.0
        values[top : top + 256] = np.clip(strip + grain, 0, 255)
    file = io.BytesIO()
    Image.fromarray(values).save(file, "JPEG", quality=92, subsampling="4:2:2")
    return file.getvalue()


def in_a_fresh_process(megapixels, what):
    """Make the frame in another process, so that its memory is not counted; measure with it."""
    path = Path(tempfile.gettempdir()) / f"wd-bench-{megapixels}-{SEED}.jpg"
    if not path.exists():
        code = (
            "from config.benches.pixels import frame; from pathlib import Path; import os;"
            f"p = Path({str(path)!r}); q = p.with_suffix(f'.{{os.getpid()}}');"
            f"q.write_bytes(frame({megapixels})); q.replace(p)"
        )
        subprocess.run([sys.executable, "-c", code], cwd=settings.BASE_DIR, check=True)
    return what(path)


def decode_whole(*paths):
    """One full decode of each file by Pillow: what the measures stand against."""
    from PIL import Image

    for path in paths:
        with Image.open(path) as picture:
            picture.load()


def _everything(megapixels):
    return in_a_fresh_process(megapixels, _measure_everything)


def _measure_everything(path):
    from shootlog.intake.pixels import look
    from shootlog.recorded import Recorded

    bare = functools.partial(decode_whole, path)
    # a small opening, so that dust is looked for too
    recorded = Recorded(f_number=16.0, iso=200)
    with tempfile.TemporaryDirectory() as folder:
        found = measuring.paired(bare, lambda: look(path, recorded, Path(folder)), n=9)
        peak = _peak_of_the_child(path, folder)
    return found | {"against": AGAINST, "peak_rss_mb": peak, "goal": 1.25}


PEAK = """
import sys
from pathlib import Path
from config.measuring import peak_rss_mb
from shootlog.intake.pixels import look
from shootlog.recorded import Recorded
look(Path(sys.argv[1]), Recorded(f_number=16.0, iso=200), Path(sys.argv[2]))
print(peak_rss_mb())
"""


def _peak_of_the_child(path, folder):
    """The most memory of the process that reads files: as in the cage, without Django."""
    line = [sys.executable, "-c", PEAK, str(path), folder]
    threads = os.environ | ONE_THREAD
    done = subprocess.run(
        line, cwd=settings.BASE_DIR, env=threads, stdout=subprocess.PIPE, check=True
    )
    return float(done.stdout)


def everything_24():
    return _everything(24)


def everything_60():
    return _everything(60)


def sharpness_map():
    """The full-resolution map alone, from luminance already in memory."""
    return in_a_fresh_process(24, _measure_map)


def _measure_map(path):
    import numpy as np
    from PIL import Image

    from optics.evidence import sharpness

    with Image.open(path) as picture:
        luma = np.asarray(picture.convert("L"))
    before = measuring.peak_rss_mb()
    sharpness.sharpness_map(luma)
    grown = measuring.peak_rss_mb() - before

    bare = functools.partial(decode_whole, path)
    found = measuring.paired(bare, lambda: sharpness.sharpness_map(luma))
    return found | {"against": AGAINST, "above_luma_mb": round(grown, 1)}


LOOK_FOR = """
import sys, time
from pathlib import Path
from shootlog.intake.pixels import look
path, seconds = Path(sys.argv[1]), float(sys.argv[2])
look(path, None, None)
print("ready", flush=True)
sys.stdin.readline()
until, done = time.monotonic() + seconds, 0
while time.monotonic() < until:
    look(path, None, None)
    done += 1
print(done / (time.monotonic() - until + seconds), flush=True)
"""


def two_looking():
    """Frames a second of two processes that look at 24-megapixel frames, against one."""
    return in_a_fresh_process(24, _measure_two)


def _measure_two(path):
    rates = {1: [], 2: []}
    for _ in range(5):
        for count, seen in rates.items():
            seen.append(_rate(path, count, 6.0))
    ratios = sorted(two / one for one, two in zip(rates[1], rates[2], strict=True))
    return {
        "ratio": round(ratios[len(ratios) // 2], 3),
        "against": "one process",
        "n": len(ratios),
        "spread": round((ratios[-1] - ratios[0]) / 2, 3),
        "frames_a_second": round(sorted(rates[2])[len(ratios) // 2], 2),
        "measured_at": time.strftime("%H:%M"),
    }


def _rate(path, count, seconds):
    line = [sys.executable, "-c", LOOK_FOR, str(path), str(seconds)]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    working = [subprocess.Popen(line, cwd=settings.BASE_DIR, **pipes) for _ in range(count)]
    for process in working:
        process.stdout.readline()
    for process in working:
        process.stdin.write("\n")
        process.stdin.flush()
    return sum(float(process.communicate()[0]) for process in working)


BENCHES = {
    "pixels-24": everything_24,
    "pixels-60": everything_60,
    "pixels-map": sharpness_map,
    "pixels-two-workers": two_looking,
}

"""Measuring frames against decoding them: slanted edge, ruler, registration, whole stacks."""

import functools
import io
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from config.benches.pixels import decode_whole
from config.measuring import paired
from optics.evidence import registration, ruler, sfr
from shootlog.intake.shots import open_shot, shot_of_picture
from shootlog.reading import Reading
from shootlog.recorded import Recorded
from shootlog.series import check

SIDES = (6000, 4000)
STACK_FRAMES = 30
PLAIN_FRAMES = 2
DECODE = "one bare RGB decode of a 24 MP JPEG by Pillow"


@functools.cache
def content():
    """One 24 MP frame with detail everywhere, the same each time."""
    rng = np.random.default_rng(7)
    small = rng.integers(40, 215, (500, 750, 3), dtype=np.uint8)
    large = Image.fromarray(small).resize(SIDES, Image.Resampling.BICUBIC)
    grain = Image.fromarray(rng.integers(0, 40, (SIDES[1], SIDES[0]), dtype=np.uint8))
    file = io.BytesIO()
    Image.blend(large, grain.convert("RGB"), 0.2).save(file, "JPEG", quality=92)
    return file.getvalue()


def decode():
    Image.open(io.BytesIO(content())).load()


def slanted_edge():
    """A 400 x 400 crop with one edge."""
    y, x = np.mgrid[:400, :400] - 200.0
    edge = 100 + 80 * np.tanh((x - 0.1 * y) / 1.5)
    edge += np.random.default_rng(1).normal(0, 1, edge.shape)
    return paired(decode, lambda: sfr.slanted_edge(edge)) | {"against": DECODE, "goal": 0.07}


def ruler_spacing():
    """A 2048-pixel picture of a ruler at an angle."""
    y, x = np.mgrid[:1365, :2048].astype(np.float32)
    u, v = x * 0.966 + y * 0.259, y * 0.966 - x * 0.259
    number = np.floor(u / 24)
    long = np.where(number % 10 == 0, 120, np.where(number % 5 == 0, 95, 70))
    tick = (np.abs(u % 24 - 12) < 2) & (v > 300) & (v < 300 + long)
    picture = np.where(tick, 40, 220) + np.random.default_rng(2).normal(0, 3, u.shape)
    return paired(decode, lambda: ruler.tick_spacing(picture)) | {"against": DECODE, "goal": 0.7}


def registration_pair():
    """Two 512-pixel lumas as kept at upload."""
    scene = np.random.default_rng(3).normal(0, 1, (400, 600)).cumsum(0).cumsum(1)
    scene = 120 + 40 * scene / scene.std()
    first, second = scene[20:361, 20:532], scene[23:364, 18:530]
    return paired(decode, lambda: registration.best_fit(first, second)) | {
        "against": DECODE,
        "goal": 0.2,
    }


def _stack(folder, count):
    """`count` files of the same frame, shifted a little: the work of a stack, not its truth."""
    paths = []
    for k in range(count):
        path = Path(folder) / f"{k:02d}.jpg"
        if not path.exists():
            path.write_bytes(content())
        paths.append(path)
    return paths


def _against_decoding(paths, n):
    """Opened, registered and checked as a stack, against bare decodes of the same files."""
    bare = functools.partial(decode_whole, *paths)
    return paired(bare, lambda: check("stack", [open_shot(p) for p in paths]), n=n)


def stack_from_files():
    """Thirty 24 MP frames opened, registered and checked, against decoding them."""
    with tempfile.TemporaryDirectory() as folder:
        paths = _stack(folder, STACK_FRAMES)
        return _against_decoding(paths, n=3) | {
            "against": f"bare RGB decodes of the same {STACK_FRAMES} files by Pillow",
            "goal": 0.9,
            "peaks_mb": {n: _peak(folder, n) for n in (10, 30, 90)},
        }


def stack_kept():
    """The same check from the screen pictures that were kept at upload: how the house does it."""
    screen = io.BytesIO()
    Image.open(io.BytesIO(content())).reduce(3).save(screen, "JPEG", quality=85)
    facts, reading = Recorded(), Reading()

    def kept(k):
        picture = io.BytesIO(screen.getvalue())
        return shot_of_picture(picture, file=str(k), recorded=facts, reading=reading, size=SIDES)

    return paired(decode, lambda: check("stack", [kept(k) for k in range(STACK_FRAMES)]), n=3) | {
        "against": f"{DECODE}, once; the stack has {STACK_FRAMES} frames",
    }


def stack_the_plain_way():
    """Which of some frames is sharpest, block by block, written as scikit-image makes it easiest.

    Laplacian in floats, block means of all frames kept, no registration: less than ours does. On
    few frames, since it is slow; its memory grows by a map a frame and by what a frame needs.
    """
    from skimage import color, filters, measure

    def plain(paths):
        maps = []
        for path in paths:
            luma = color.rgb2gray(np.asarray(Image.open(path)))
            maps.append(measure.block_reduce(np.abs(filters.laplace(luma)), (32, 32), np.mean))
        return np.stack(maps).argmax(axis=0)

    with tempfile.TemporaryDirectory() as folder:
        paths = _stack(folder, PLAIN_FRAMES)
        ours = _against_decoding(paths, n=3)
        bare = functools.partial(decode_whole, *paths)
        return paired(bare, lambda: plain(paths), n=2) | {
            "against": f"bare RGB decodes of the same {PLAIN_FRAMES} files by Pillow",
            "ours_of_the_same": ours["ratio"],
            "ours_peak_mb": _peak(folder, PLAIN_FRAMES),
        }


def _peak(folder, count):
    """Peak memory of a fresh process that checks a stack of so many frames."""
    paths = [str(path) for path in _stack(folder, count)]
    work = (
        "import os, sys; os.environ['DJANGO_SETTINGS_MODULE'] = 'config.settings'\n"
        "from pathlib import Path\n"
        "from config.measuring import peak_rss_mb\n"
        "from shootlog.intake.shots import open_shot\n"
        "from shootlog.series import check\n"
        "check('stack', [open_shot(Path(p)) for p in sys.argv[1:]])\n"
        "print(peak_rss_mb())\n"
    )
    done = subprocess.run(  # noqa: S603 -- our own interpreter and words
        [sys.executable, "-c", work, *paths], capture_output=True, text=True, check=True
    )
    return float(done.stdout.split()[-1])


BENCHES = {
    "slanted_edge": slanted_edge,
    "ruler": ruler_spacing,
    "registration": registration_pair,
    "stack": stack_from_files,
    "stack-kept": stack_kept,
    "stack-plain-way": stack_the_plain_way,
}

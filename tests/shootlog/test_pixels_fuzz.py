"""Mutated picture files: evidence or words; no crash, no hang, no memory beyond the stated bound.

The short run mutates drawn files in this process. The long one (`-m slow`, ten minutes, or
`WD_FUZZ_S=60`) sends mutated files through the cage, real camera files among them, and looks at
the child: it must still be there, it must have answered in time, and it must never have held more
than `MOST_MB`. A file that broke a rule is kept in `fuzz_kept/` and every run tries it again.
"""

import hashlib
import io
import os
import random
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from shootlog.intake.cage import Broke, Cage, Limits
from shootlog.intake.pixels import look
from shootlog.intake.tags import Unreadable

KEPT = Path(__file__).parent / "fuzz_kept"
FRAMES = Path(__file__).resolve().parents[2] / ".." / "shared" / "frames"
#: The bound stated for one file, as the cage sets it: address space, of which this is resident.
MOST_MB = 1536
SLOWEST_S = 60.0  # of processor time
LARGEST_SEED = 6_000_000
SEED = 20261125
NO_PICTURES = (".md", ".toml", ".csv", ".txt", ".json")
#: Lengths and offsets that readers trip over.
ODD_NUMBERS = (b"\xff" * 4, b"\0" * 4, b"\x7f\xff\xff\xff", b"\0\0\0\1")


def drawn():
    grey = np.random.default_rng(3).integers(0, 255, (64, 96, 3), np.uint8)
    for kind, more in (
        ("JPEG", {}), ("JPEG", {"progressive": True}), ("PNG", {}), ("WEBP", {}), ("TIFF", {}),
    ):  # fmt: skip
        file = io.BytesIO()
        Image.fromarray(grey).save(file, kind, **more)
        yield file.getvalue()


SEEDS = list(drawn())


def mutated(draw):
    data = bytearray(draw(st.sampled_from(SEEDS)))
    for _ in range(draw(st.integers(1, 8))):
        data[draw(st.integers(0, len(data) - 1))] = draw(st.integers(0, 255))
    return bytes(data[: draw(st.integers(1, len(data)))])


def look_at(path, data):
    path.write_bytes(data)
    try:
        found = look(path, None, None)
    except Unreadable as refused:
        words = str(refused)
    else:
        words = f"{path.name} is {found['width_px']} pixels wide"
    assert path.name in words


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.composite(mutated)())
def test_mutated_files_give_evidence_or_words(tmp_path, data):
    look_at(tmp_path / "frame.jpg", data)


# --- the long run, in the cage ---


def real():
    """A small file of every kind that cameras write, where the shared frames are at hand."""
    if not FRAMES.exists():
        return []
    by_kind = {}
    for path in sorted(FRAMES.rglob("*.*"), key=lambda path: path.stat().st_size):
        large = 1000 < path.stat().st_size < LARGEST_SEED
        if path.is_file() and large and path.suffix.lower() not in NO_PICTURES:
            by_kind.setdefault(path.suffix.lower(), []).append(path)
    chosen = [path for paths in by_kind.values() for path in paths[:4]]
    return [path.read_bytes() for path in chosen]


def mutate(data, rng):
    """One to forty changes, most of them where headers and tables lie."""
    data = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4, 8, 40))):
        head = min(len(data), rng.choice((64, 1024, 16_384, len(data), len(data))))
        at = rng.randrange(head)
        how = rng.randrange(5)
        if how == 0:
            data[at] = rng.choice((0, 1, 0x7F, 0x80, 0xFF))
        elif how == 1:
            data[at] ^= 1 << rng.randrange(8)
        elif how == 2:  # a length or an offset
            data[at : at + 4] = rng.choice(
                (b"\xff" * 4, b"\0" * 4, b"\x7f\xff\xff\xff", b"\0\0\0\1")
            )
        elif how == 3:  # a piece of it again, elsewhere
            long = rng.randrange(1, 512)
            data[at : at + long] = data[: min(long, len(data))]
        else:
            del data[at : at + rng.randrange(1, 64)]
        if not data:
            return b"\0"
    if rng.randrange(4) == 0:
        del data[rng.randrange(1, len(data) + 1) :]
    return bytes(data)


def most_held_mb(cage):
    status = Path(f"/proc/{cage.child.pid}/status").read_text(encoding="ascii")
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


class Tried:
    """What came of the files sent through one cage."""

    def __init__(self, folder):
        self.path = folder / "frame.jpg"
        self.cage = Cage(Limits(memory_mb=3072, processor_s=int(SLOWEST_S), still_s=240.0))
        self.counts = {"evidence": 0, "facts and words": 0, "words": 0}
        self.broke = []
        self.most_mb = self.slowest_s = 0.0

    def send(self, data):
        self.path.write_bytes(data)
        request = {"path": str(self.path), "name": self.path.name, "into": None, "wanted": None}
        began = time.monotonic()
        try:
            found = self.cage.ask(request)
        except Broke:
            self.broke.append(("the child ended", data))
            return
        self.slowest_s = max(self.slowest_s, time.monotonic() - began)
        held = most_held_mb(self.cage)
        if held > MOST_MB:
            self.broke.append((f"{held:.0f} MB", data))
            self.cage.close()  # the mark is of a process's whole life
        self.most_mb = max(self.most_mb, held)
        kind = "evidence" if found["evidence"] else "words"
        kind = "facts and words" if kind == "words" and found["recorded"] else kind
        self.counts[kind] += 1
        if kind != "evidence" and self.path.name not in found["trouble"]:
            self.broke.append(("no words", data))


@pytest.fixture
def tried(tmp_path):
    if not Path("/proc/self/status").exists():
        pytest.skip("how much a process holds is read from /proc, which is not here")
    tried = Tried(tmp_path)
    yield tried
    tried.cage.close()


def test_files_that_broke_a_rule_once_keep_it_now(tried):
    for kept in sorted(KEPT.glob("*.bin")):
        tried.send(kept.read_bytes())
    assert [why for why, _ in tried.broke] == []


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_ten_minutes_of_mutated_files_harm_nobody(tried):
    seed = int(os.environ.get("WD_FUZZ_SEED", SEED))
    rng = random.Random(seed)  # noqa: S311 - repeatable, not secret
    seeds = [*SEEDS, *real()]
    until = time.monotonic() + float(os.environ.get("WD_FUZZ_S", 600))
    while time.monotonic() < until:
        tried.send(mutate(rng.choice(seeds), rng))
    sent = sum(tried.counts.values()) + len(tried.broke)
    print(
        f"\n{sent} mutated files from {len(seeds)} seeds (random seed {seed}): {tried.counts}, "
        f"{len(tried.broke)} broke a rule; most held {tried.most_mb:.0f} MB, slowest "
        f"{tried.slowest_s:.1f} s on the clock"
    )
    for why, data in tried.broke:
        KEPT.mkdir(exist_ok=True)
        (KEPT / f"{hashlib.sha256(data).hexdigest()[:12]}.bin").write_bytes(data[:200_000])
        print(why, len(data))
    assert [why for why, _ in tried.broke] == []

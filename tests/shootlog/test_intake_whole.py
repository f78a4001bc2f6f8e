"""Real camera files all the way: in, read, worked out, flagged; and the worker killed."""

import io
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from shootlog import store
from shootlog.intake.receive import Refused, receive
from shootlog.models import Frame, Job
from shootlog.reading import Reading
from tests.house import BASE, environment, manage, url_of_test_database, wait_for

FRAMES = Path(__file__).parents[2] / ".." / "shared" / "frames"
needs_frames = pytest.mark.skipif(
    not FRAMES.is_dir(), reason="real frames (../shared/frames) are not beside this clone"
)

REAL = [
    "macro/Olympus_PEN_E-P3.jpg",
    "macro/Canon_PowerShot_S230.jpg",
    "macro/Nikon_D60.jpg",
    "macro/Kodak_DX4330.jpg",
    "macro/mushroom.jpg",
    "blur/text_defocus.jpg",
    "ruler/BMNHE_1105737_angle0.JPG",
    "heic/IMG_3578.heic",
    "raw/CRW.CRW",
    "exif_only/CanonEF100mmF2.8LMacroISUSM.jpg",
    "orientation/landscape_6.jpg",
    "stacks/algae/img_1.png",
]


@needs_frames
@pytest.mark.django_db
def test_real_files_come_in_are_read_and_worked_out(sam, work):
    frames = {}
    for path in REAL:
        with (FRAMES / path).open("rb") as file:
            frames[path], created = receive(file, owner=sam, name=Path(path).name)
        assert created
    work()
    for path, frame in frames.items():
        frame.refresh_from_db()
        assert frame.is_readable, (path, frame.trouble)
        assert frame.recorded["file_type"] == frame.file_type
        assert Reading.from_json(frame.reading).as_json() == frame.reading
        assert frame.evidence["sharp_share"] is not None or path.startswith("exif_only")
        for made in ("screen.jpg", "thumb.jpg"):
            assert store.holds(f"{frame.shown_key}/{made}"), path
        with store.on_disk(frame.original_key) as kept:
            assert kept.read_bytes() == (FRAMES / path).read_bytes()
    # What the student is told of a picture without any data, and of a close-up with them.
    bare = frames["orientation/landscape_6.jpg"]
    assert "stripped-file" in bare.flags.values_list("finding", flat=True)
    assert frames["macro/Olympus_PEN_E-P3.jpg"].caption.startswith("1:")


@needs_frames
@pytest.mark.django_db
def test_every_damaged_file_is_refused_or_ends_in_words(sam, work):
    refusals = {}
    for path in sorted((FRAMES / "corrupt").iterdir()):
        try:
            with path.open("rb") as file:
                receive(file, owner=sam, name=path.name)
        except Refused as words:
            refusals[path.name] = str(words)
    work()
    assert len(refusals) >= 5
    assert all(name in words for name, words in refusals.items())
    frames = list(Frame.objects.all())
    assert len(frames) >= 80
    for frame in frames:
        assert frame.is_settled, frame
        if not frame.is_readable:
            assert "Send" in frame.trouble or "opy it again" in frame.trouble
            assert store.holds(frame.original_key)
    assert not Job.objects.exclude(state=Job.State.DONE).exists()


def slow_to_decode():
    """A picture that takes a while: large, and hard to compress."""
    out = io.BytesIO()
    small = Image.effect_noise((1000, 800), 90).convert("RGB")
    small.resize((5000, 4000), Image.Resampling.NEAREST).save(out, "JPEG", quality=90)
    return io.BytesIO(out.getvalue())


@pytest.mark.django_db(transaction=True)
def test_a_worker_killed_while_a_frame_is_read_loses_nothing(sam, tmp_path, settings):
    frame, _ = receive(slow_to_decode(), owner=sam, name="DSC_1.JPG")
    env = environment(
        tmp_path,
        WD_DATABASE_URL=url_of_test_database(),
        WD_ARRIVING=str(settings.ARRIVING),
    )

    def state():
        return Frame.objects.values_list("state", flat=True).get(pk=frame.pk)

    with manage("work", "--name", "first", env=env, stdout=subprocess.DEVNULL) as first:
        wait_for(lambda: state() == Frame.State.READING)
        children = children_of(first.pid)
        os.kill(first.pid, signal.SIGKILL)
        first.wait()
    # what it had begun is still marked, and nothing half read stands in the row
    frame.refresh_from_db()
    assert frame.state == Frame.State.READING
    assert frame.recorded is None
    Job.objects.give_back("first")
    with manage("work", "--once", "--name", "second", env=env) as second:
        assert second.wait(timeout=120) == 0
    frame.refresh_from_db()
    assert (frame.state, frame.trouble) == (Frame.State.READY, "")
    assert frame.recorded["width_px"] == 5000
    assert Job.objects.get().attempts == 2
    wait_for(lambda: not any(map(is_alive, children)))  # the child went with its parent


def children_of(pid):
    found = Path(f"/proc/{pid}/task/{pid}/children")
    return [int(child) for child in found.read_text().split()] if found.exists() else []


def is_alive(pid):
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_reading_facts_needs_no_database_and_no_django():
    program = (
        "import sys; from shootlog.intake import tags, inside, cage; from shootlog import cameras;"
        "assert not [m for m in sys.modules if m == 'django' or m.startswith('django.')]"
    )
    ended = subprocess.run([sys.executable, "-c", program], cwd=BASE, timeout=60, check=False)
    assert ended.returncode == 0

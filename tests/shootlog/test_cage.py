"""The child process that decodes: facts, words, and what happens when it dies."""

import io
import os
import signal
import struct
import subprocess
import sys
import time
import types
import zlib

import pytest
from PIL import Image

from shootlog.intake import inside
from shootlog.intake.cage import PROJECT, Broke, Cage, Limits, _processor_s, look_in_cage


@pytest.fixture
def jpeg(tmp_path):
    path = tmp_path / "original"
    out = io.BytesIO()
    Image.effect_noise((320, 240), 40).convert("RGB").save(out, "JPEG")
    path.write_bytes(out.getvalue())
    return path


def request(path, **more):
    return {"path": str(path), "name": "a.jpg", "into": None, "wanted": None} | more


def test_facts_come_back_as_recorded(jpeg):
    looked = look_in_cage(jpeg, name="a.jpg")
    assert (looked.recorded.file_type, looked.recorded.width_px) == ("JPEG", 320)


def test_words_name_the_file_as_it_was_sent_not_as_it_is_stored(tmp_path):
    path = tmp_path / "0123abcd"
    path.write_bytes(b"nothing like a picture")
    looked = look_in_cage(path, name="DSC_0001.JPG")
    assert looked.recorded is None
    assert "DSC_0001.JPG" in looked.trouble
    assert "0123abcd" not in looked.trouble


def test_one_child_serves_many_files_and_is_replaced_after_some(jpeg, monkeypatch):
    monkeypatch.setattr("shootlog.intake.cage.FILES_PER_CHILD", 2)
    cage = Cage()
    try:
        pids = []
        for _ in range(3):
            cage.ask(request(jpeg))
            pids.append(cage.child.pid)
        assert pids[0] == pids[1] != pids[2]
    finally:
        cage.close()


def test_a_killed_child_gives_words_and_the_next_file_a_new_child(jpeg):
    cage = Cage()
    try:
        cage.ask(request(jpeg))
        os.kill(cage.child.pid, signal.SIGKILL)
        cage.child.wait()
        assert cage.ask(request(jpeg))["recorded"]["width_px"] == 320
    finally:
        cage.close()


def test_a_hanging_child_is_ended_where_it_stands_still(jpeg):
    cage = Cage(Limits(still_s=0.5))
    try:
        cage._ready_child()
        os.kill(cage.child.pid, signal.SIGSTOP)  # hangs like a decoder in a loop, asleep
        begin = time.monotonic()
        with pytest.raises(Broke, match=r"a\.jpg could not be read"):
            cage.ask(request(jpeg))
        assert time.monotonic() - begin < 5
        assert cage.child is None
    finally:
        cage.close()


def test_a_child_that_others_crowd_out_is_waited_for(jpeg, monkeypatch):
    """On a busy machine a decode may take minutes by the clock; the file is not to blame."""
    used = iter([1.0, 1.01, 1.02, 1.03, 1.03])
    monkeypatch.setattr("shootlog.intake.cage._processor_s", lambda pid: next(used))
    cage = Cage(Limits(still_s=0.1))
    try:
        cage._ready_child()
        os.kill(cage.child.pid, signal.SIGSTOP)
        with pytest.raises(Broke):
            cage.ask(request(jpeg))
        assert next(used, None) is None
    finally:
        cage.close()


def test_processor_time_is_what_the_system_counts():
    """Beside os.times() of this very process, which asks the kernel another way."""
    sum(k * k for k in range(1_000_000))
    own = os.times()
    assert _processor_s(os.getpid()) == pytest.approx(own.user + own.system, abs=0.1)


@pytest.mark.parametrize(
    ("limit", "greedy", "ending"),
    [
        ("inside._allow_processor(0)", "while True: pass", -signal.SIGXCPU),
        (
            "inside._limit(resource.RLIMIT_AS, 200 << 20)",
            "try: bytes(400 << 20)\nexcept MemoryError: raise SystemExit(7)",
            7,
        ),
    ],
    ids=["processor", "memory"],
)
def test_the_system_itself_holds_the_limits(limit, greedy, ending):
    program = f"import resource\nfrom shootlog.intake import inside\n{limit}\n{greedy}"
    ended = subprocess.run([sys.executable, "-c", program], cwd=PROJECT, timeout=60, check=False)
    assert ended.returncode == ending


def test_too_little_memory_is_said_in_words(jpeg, monkeypatch):
    def hungry(*args):
        raise MemoryError

    monkeypatch.setattr(inside, "read_recorded_from", hungry)
    found = inside.answer(request(jpeg))
    assert "more memory" in found["trouble"]
    assert "a.jpg" in found["trouble"]


def test_whatever_a_decoder_raises_leaves_the_facts(jpeg, monkeypatch):
    def break_off(*args):
        raise RuntimeError("native code says no")

    fake = types.ModuleType("shootlog.intake.pixels")
    fake.look = break_off
    monkeypatch.setitem(sys.modules, "shootlog.intake.pixels", fake)
    found = inside.answer(request(jpeg))
    assert found["recorded"]["width_px"] == 320
    assert found["evidence"] is None
    assert "opens only in part" in found["trouble"]


# --- pictures made to fill the memory ---


def png_chunk(name, content):
    check = zlib.crc32(name + content)
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", check)


def bomb(width, height):
    """A PNG of a few kilobytes that unpacks to gigabytes."""
    packer = zlib.compressobj(9)
    row = bytes(1 + (width + 7) // 8)
    packed = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    size = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    parts = ((b"IHDR", size), (b"IDAT", packed), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(png_chunk(*part) for part in parts)


def lying(content):
    """The same JPEG, whose header claims 65,000 pixels a side."""
    content = bytearray(content)
    at = content.index(b"\xff\xc0")
    struct.pack_into(">HH", content, at + 5, 65_000, 65_000)
    return bytes(content)


def test_pictures_made_to_fill_the_memory_get_words_and_soon(jpeg, tmp_path):
    whole = jpeg.read_bytes()
    for name, content in {
        "bomb.png": bomb(20_000, 20_000),
        "lying.jpg": lying(whole),
        "half.jpg": whole[: len(whole) // 2],
    }.items():
        path = tmp_path / name
        path.write_bytes(content)
        begin = time.monotonic()
        looked = look_in_cage(path, name=name)
        assert time.monotonic() - begin < 20
        assert looked.evidence is None
        assert name in looked.trouble
        assert "Send" in looked.trouble
        assert looked.recorded.width_px in (20_000, 65_000, 320)  # the facts stand


def test_the_house_may_say_how_many_pixels_are_opened(tmp_path, monkeypatch):
    path = tmp_path / "a.jpg"
    Image.new("RGB", (1500, 1000)).save(path)
    for most, words in (("1", "up to 1 megapixels"), ("2", "")):
        monkeypatch.setenv("WD_MOST_MEGAPIXELS", most)
        cage = Cage()  # a child of its own, that sees the house's environment
        answer = cage.ask({"path": str(path), "name": "a.jpg", "into": None, "wanted": None})
        cage.close()
        assert words in answer["trouble"]
        assert bool(answer["evidence"]) is (not words)

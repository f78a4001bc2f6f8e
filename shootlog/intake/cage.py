"""Decode one file in a process of its own, with limits on memory, processor time and standstill.

Picture decoders are native code and files come from anyone: a decoder may crash, hang or ask for
all the memory there is. Then the child goes, the worker stays, and the file gets words. The child
is kept for the next file, since starting one costs as much as decoding a small frame.
"""

from __future__ import annotations

import atexit
import contextlib
import errno
import json
import os
import selectors
import subprocess
import sys
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shootlog.recorded import Recorded

PROJECT = Path(__file__).resolve().parents[2]
FILES_PER_CHILD = 100  # whatever a decoder leaks is gone after these
ONE_THREAD = {f"{name}_NUM_THREADS": "1" for name in ("OMP", "OPENBLAS", "MKL", "NUMEXPR")}


@dataclass(frozen=True)
class Limits:
    memory_mb: int = 3072  # address space; a 100-megapixel RAW needs about half
    processor_s: int = 90
    still_s: float = 180.0  # without any processor time used: asleep, and not merely crowded out


@dataclass(frozen=True)
class Looked:
    """What the child found: facts always, evidence where the pixels could be read, else words."""

    recorded: Recorded | None
    evidence: dict[str, Any] | None
    trouble: str = ""


class Broke(Exception):
    """The child crashed, hung or hit a limit; the words say which, for the person who sent it."""


class Cage:
    """One child process and the pipe to it. Not for several threads at once: see `look_in_cage`."""

    def __init__(self, limits: Limits | None = None) -> None:
        self.limits = limits or Limits()
        self.child: subprocess.Popen[bytes] | None = None
        self.files = 0

    def ask(self, request: dict[str, Any]) -> dict[str, Any]:
        child = self._ready_child()
        if child.stdin is None or child.stdout is None:
            raise Broke("the reader of pictures did not start")
        try:
            child.stdin.write(json.dumps(request).encode() + b"\n")
            child.stdin.flush()
            line = self._line(child)
        except BrokenPipeError:
            line = b""
        if not line.endswith(b"\n"):
            raise Broke(self._ended(request["name"]))
        self.files += 1
        answer: dict[str, Any] = json.loads(line)
        if answer.get("no_room"):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), request["into"])
        return answer

    def close(self) -> None:
        child, self.child, self.files = self.child, None, 0
        if child is None:
            return
        child.kill()
        child.wait()
        for pipe in (child.stdin, child.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    def _ready_child(self) -> subprocess.Popen[bytes]:
        if self.child is not None and (
            self.files >= FILES_PER_CHILD or self.child.poll() is not None
        ):
            self.close()
        if self.child is None:
            limits = self.limits
            self.child = subprocess.Popen(  # noqa: S603 - our own interpreter and module
                [
                    sys.executable,
                    "-m",
                    "shootlog.intake.inside",
                    str(limits.memory_mb),
                    str(limits.processor_s),
                ],
                cwd=PROJECT,
                env=os.environ | ONE_THREAD,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
            )
        return self.child

    def _line(self, child: subprocess.Popen[bytes]) -> bytes:
        """Read one line or give up where the child stands still; it then goes."""
        found = bytearray()
        handle = child.stdout.fileno()  # type: ignore[union-attr]
        used = _processor_s(child.pid)
        with selectors.DefaultSelector() as selector:
            selector.register(handle, selectors.EVENT_READ)
            while not found.endswith(b"\n"):
                if not selector.select(self.limits.still_s):
                    before, used = used, _processor_s(child.pid)
                    if used > before:  # slow because others work too: no fault of the file
                        continue
                    child.kill()
                    child.wait()
                    return b""
                piece = os.read(handle, 1 << 20)
                if not piece:
                    return bytes(found)
                found += piece
        return bytes(found)

    def _ended(self, name: str) -> str:
        self.close()
        return (
            f"{name} could not be read: decoding it took too long, too much memory or broke off. "
            "The file is kept as it came. If the picture opens on your own computer, send it again "
            "as the camera's JPEG; if not, copy it again from the card."
        )


def _processor_s(pid: int) -> float:
    """Processor time a process has used, to a hundredth; 0 where the system does not tell it."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_bytes()
    except OSError:
        return 0.0
    user, system = stat.rpartition(b")")[2].split()[11:13]  # fields 14 and 15 of proc(5)
    return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


_cage = Cage()
_one_at_a_time = threading.Lock()
atexit.register(_cage.close)


def look_in_cage(
    path: Path, *, name: str, into: Path | None = None, wanted: list[float] | None = None
) -> Looked:
    """Read facts and pixels of one file in the child; raise `Broke` where it did not survive."""
    request = {
        "path": str(path),
        "name": name,
        "into": str(into) if into else None,
        "wanted": wanted,
    }
    with _one_at_a_time:
        answer = _cage.ask(request)
    recorded = answer["recorded"]
    return Looked(
        recorded=Recorded.from_json(recorded) if recorded is not None else None,
        evidence=answer["evidence"],
        trouble=answer["trouble"],
    )


def look_or_facts(path: Path, *, name: str, wanted: list[float] | None = None) -> Looked:
    """Look; where the child did not survive the picture, another reads the facts alone."""
    try:
        return look_in_cage(path, name=name, wanted=wanted)
    except Broke as trouble:
        return Looked(_facts(path, name), None, str(trouble))


def _facts(path: Path, name: str) -> Recorded | None:
    with _one_at_a_time, contextlib.suppress(Broke):
        recorded = _cage.ask({"path": str(path), "name": name, "facts": True})["recorded"]
        return Recorded.from_json(recorded) if recorded is not None else None
    return None


def cut_in_cage(path: Path, *, name: str, into: Path) -> dict[str, int]:
    """Cut the picture into tiles in the child; raise `Broke` with words where it cannot be."""
    request = {"path": str(path), "name": name, "into": str(into), "tiles": True}
    with _one_at_a_time:
        answer = _cage.ask(request)
    if answer["trouble"]:
        raise Broke(answer["trouble"])
    size: dict[str, int] = answer["evidence"]
    return size

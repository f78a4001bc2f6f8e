"""The child in the cage: reads requests line by line, answers each with one line.

Started by `cage` as a process of its own. Its limits hold before the first byte of a file is read.
"""

from __future__ import annotations

import contextlib
import json
import os
import resource
import sys
from pathlib import Path
from typing import Any, BinaryIO

from shootlog.full_disk import is_full
from shootlog.intake.tags import Unreadable, read_recorded_from

MEGABYTE = 1 << 20


def main() -> None:
    memory_mb, processor_s = int(sys.argv[1]), int(sys.argv[2])
    answers = _private_answers()
    _limit(resource.RLIMIT_AS, memory_mb * MEGABYTE)
    _limit(resource.RLIMIT_CORE, 0)
    for line in sys.stdin.buffer:
        _allow_processor(processor_s)
        answers.write(json.dumps(answer(json.loads(line))).encode() + b"\n")
        answers.flush()


def answer(request: dict[str, Any]) -> dict[str, Any]:
    """Facts first; where the pixels fail the facts stand, with words about the pixels."""
    found: dict[str, Any] = {"recorded": None, "evidence": None, "trouble": ""}
    name, path = request["name"], Path(request["path"])
    try:
        if request.get("tiles"):
            from shootlog.intake.tiles import cut  # a decoder too, so after the limits

            found["evidence"] = cut(path, Path(request["into"]))
            return found
        with path.open("rb") as file:
            recorded = read_recorded_from(file, name)
        found["recorded"] = recorded.as_json()
        if request.get("facts"):
            return found
        from shootlog.intake.pixels import look  # the decoders; after the limits and the facts

        into = Path(request["into"]) if request["into"] else None
        found["evidence"] = look(path, recorded, into, request["wanted"])
    except Unreadable as trouble:
        words = str(trouble)
        found["trouble"] = words if name in words else words.replace(path.name, name)
    except MemoryError:
        found["trouble"] = (
            f"{name} needs more memory to open than this log gives to one picture. It is kept as "
            "it came. Send the camera's JPEG of it, or a smaller size."
        )
    except Exception as trouble:  # whatever a decoder raises is about this file alone
        if is_full(trouble):  # but for this, which says nothing of the file
            return found | {"no_room": True}
        print(f"{name}: {type(trouble).__name__}: {trouble}", file=sys.stderr)
        found["trouble"] = (
            f"{name} opens only in part: its picture could not be decoded. It is kept as it came. "
            "Copy it again from the card; if that changes nothing, send the camera's JPEG of it."
        )
    return found


def _private_answers() -> BinaryIO:
    """Keep the pipe for answers alone: native code that prints to standard output goes astray."""
    private = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return os.fdopen(private, "wb")


def _limit(kind: int, value: int) -> None:
    _, hard = resource.getrlimit(kind)
    if hard != resource.RLIM_INFINITY:
        value = min(value, hard)
    with contextlib.suppress(ValueError, OSError):  # a stricter limit already holds
        resource.setrlimit(kind, (value, hard))


def _allow_processor(seconds: int) -> None:
    """Allow this many seconds from now on; the count runs over the life of the process."""
    used = sum(os.times()[:2])
    _limit(resource.RLIMIT_CPU, int(used) + seconds + 1)


if __name__ == "__main__":
    main()

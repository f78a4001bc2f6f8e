"""What lies in the store and what the rows say should lie there: the two must agree."""

import hashlib
import re
from dataclasses import dataclass, field

from course.models import Crit
from shootlog import store
from shootlog.models import Frame

PIECE_BYTES = 1 << 20
SHOWN = ("screen.jpg", "thumb.jpg")  # what every frame that could be read is shown by
OF_A_FRAME = re.compile(r"shown/(\d+)/(\d+)/.+")
OF_THE_HOUSE = "house/"  # notes of the house to itself: when the last backup was made
FRAME_COLUMNS = ("pk", "owner_id", "sha256", "size_bytes", "sent_name", "state")


@dataclass
class Found:
    """What a look through rows and files brought to light, in words."""

    lost: list[str] = field(default_factory=list)
    strays: list[str] = field(default_factory=list)
    rows: int = 0
    files: int = 0


def files(folder=""):
    """Name every file in the store."""
    try:
        folders, names = store.store().listdir(folder)
    except FileNotFoundError:
        return
    for name in sorted(names):
        yield f"{folder}{name}"
    for name in sorted(folders):
        yield from files(f"{folder}{name}/")


def frames(using="default"):
    return Frame.objects.using(using).only(*FRAME_COLUMNS).order_by("pk").iterator(500)


def voices(using="default"):
    spoken = Crit.objects.using(using).exclude(voice_key="")
    return set(spoken.values_list("voice_key", flat=True))


def sha256_of(file):
    digest, size = hashlib.sha256(), 0
    while piece := file.read(PIECE_BYTES):
        digest.update(piece)
        size += len(piece)
    return digest.hexdigest(), size


def amiss(frame, *, quick=False):
    """Say what is amiss with a frame's original; nothing where it is as it came."""
    what = f"{frame} (frame {frame.pk}, {frame.original_key})"
    here = store.store()
    try:
        if here.size(frame.original_key) != frame.size_bytes:
            return f"{what}: the original has another length than when it came."
        if quick:
            return None
        with here.open(frame.original_key, "rb") as file:
            found, _ = sha256_of(file)
    except OSError:  # an object store's own word for it is one as well
        return f"{what}: the original is not there."
    return None if found == frame.sha256 else f"{what}: the original's bytes have changed."


def look_through(*, quick=False):
    """Compare all rows with all files."""
    found = Found()
    there = set(files())
    found.files = len(there)
    wanted, known = set(voices()), {}
    for frame in frames():
        found.rows += 1
        known[frame.pk] = frame.owner_id
        wanted.add(frame.original_key)
        trouble = amiss(frame, quick=quick)
        if trouble:
            found.lost.append(trouble)
        if frame.is_readable:
            missing = [n for n in SHOWN if f"{frame.shown_key}/{n}" not in there]
            if missing:
                found.lost.append(f"{frame} (frame {frame.pk}): no {' and no '.join(missing)}.")
    found.lost += [f"{key}: a spoken crit is not there." for key in voices() - there]
    for key in sorted(there - wanted):
        of_frame = OF_A_FRAME.fullmatch(key)
        belongs = of_frame and known.get(int(of_frame[2])) == int(of_frame[1])
        if not (belongs or key.startswith(OF_THE_HOUSE)):
            found.strays.append(key)
    return found

"""What is odd about the frames of a series as they were given, before anything is measured. Pure.

One frame, the same picture again and again, several sizes or cameras, no times, files that can't
be opened: each in words with the way out, the same in the command, the interface and on the page.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shootlog.series.shot import Shot

NAMED_AT_MOST = 3
ONE = "One frame is no series yet: nothing lies between. Put more frames beside it."
ALL_THE_SAME = (
    "All {count} frames are the same picture: nothing lies between them. "
    "Send the frames as the camera wrote them, each once."
)


def nothing_between(shots: Sequence[Shot]) -> str:
    """Say why these frames can't be a series at all; empty where they can."""
    if len(shots) == 1:
        return ONE
    same = same_pictures(shots)
    return ALL_THE_SAME.format(count=len(shots)) if len(same) == len(shots) - 1 else ""


def troubles(shots: Sequence[Shot], timed: bool) -> list[str]:
    """Sentences on what stands in the way, each with the way out; `nothing_between` first."""
    said = [_sizes(shots), _cameras(shots), _same(same_pictures(shots))]
    return [words for words in [*said, "" if timed else _no_times(shots)] if words]


def same_pictures(shots: Sequence[Shot]) -> list[int]:
    """Positions from 1 of frames that show, pixel for pixel, what the one before shows.

    Noise alone makes two real frames differ.
    """
    pairs = enumerate(zip(shots, shots[1:], strict=False), 2)
    return [k for k, (a, b) in pairs if np.array_equal(a.luma, b.luma)]


def unreadable_words(unreadable: Sequence[Mapping[str, Any]], left: int) -> str:
    """Name the frames that can't be opened; each has its `place` from 1 and `file`."""
    if not unreadable:
        return ""
    names = listed([f"{u['place']} ({u['file']})" for u in unreadable])
    one = len(unreadable) == 1
    said = [f"Frame{'' if one else 's'} {names} can't be opened."]
    if left:
        said.append(
            f"The other {left} {'are' if left > 1 else 'is'} looked at without "
            f"{'it' if one else 'them'}, and numbered anew from 1."
        )
    it = "it" if one else "them"
    return " ".join([*said, f"Send {it} again as the camera wrote {it}."])


def listed(names: Sequence[str]) -> str:
    """Return at most three names, and how many more there are."""
    more = len(names) - NAMED_AT_MOST
    return ", ".join(names[:NAMED_AT_MOST]) + (f" and {more} more" if more > 0 else "")


def _sizes(shots: Sequence[Shot]) -> str:
    sizes = sorted({(shot.width_px, shot.height_px) for shot in shots})
    if len(sizes) < 2:
        return ""
    written = ", ".join(f"{w} x {h}" for w, h in sizes[:4])
    turned = {tuple(sorted(size)) for size in sizes}
    upright = " Some are upright and some lie." if len(turned) == 1 and len(sizes) == 2 else ""
    return (
        f"The frames differ in size ({written} pixels): what lies between frames of different "
        f"size can't be measured.{upright} Keep one camera, one format and one way up for a series."
    )


def _cameras(shots: Sequence[Shot]) -> str:
    counts = Counter(shot.camera() for shot in shots if any(shot.camera()))
    if len(counts) < 2:
        return ""
    names = [
        f"{' '.join(word for word in camera if word)} ({count})"
        for camera, count in counts.most_common()
    ]
    return (
        f"The frames come from {len(counts)} cameras: {listed(names)}. Sharpness and light of two "
        "cameras can't be compared; keep one camera for a series."
    )


def _same(same: Sequence[int]) -> str:
    if not same:
        return ""
    pairs = listed([f"{k - 1} and {k}" for k in same])
    return f"The same picture stands in {pairs}. Leave one of each out."


def _no_times(shots: Sequence[Shot]) -> str:
    without = sum(not shot.recorded.taken_at for shot in shots)
    which = "No frame holds" if without == len(shots) else f"{without} of {len(shots)} frames lack"
    return (
        f"{which} a time, so they stand in the order they were given. "
        "Send the files as the camera wrote them, and they find their order by themselves."
    )

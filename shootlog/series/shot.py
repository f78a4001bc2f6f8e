"""One frame as a series needs it: small arrays and the recorded facts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shootlog.reading import Reading
from shootlog.recorded import Recorded

Array = NDArray[Any]


@dataclass(frozen=True)
class Shot:
    """`detail` is the sharpness per block, `luma` the picture at 512 pixels, as shown."""

    file: str
    recorded: Recorded
    reading: Reading
    detail: Array
    luma: Array
    width_px: int
    height_px: int
    evidence: dict[str, Any] = field(default_factory=dict)

    @property
    def magnification(self) -> float | None:
        return self.reading.value("magnification")

    @property
    def scale(self) -> float:
        """Pixels of the frame along one of `luma`."""
        return self.width_px / self.luma.shape[1]

    @property
    def exposure_ev(self) -> float | None:
        """Exposure by the recorded dials in stops, more light higher; None where one is missing."""
        r = self.recorded
        if not (r.exposure_s and r.iso and r.f_number):
            return None
        return math.log2(r.exposure_s * r.iso / r.f_number**2)

    def camera(self) -> tuple[str | None, str | None]:
        return self.recorded.make, self.recorded.model


def in_time_order(shots: Sequence[Shot]) -> tuple[list[Shot], bool]:
    """Sort by the camera's clock, ties by the order given; say whether all had a time."""
    timed = all(shot.recorded.taken_at for shot in shots)
    if not timed:
        return list(shots), False
    return sorted(shots, key=lambda shot: str(shot.recorded.taken_at)), True


def common(
    shots: Sequence[Shot], timed: bool, given: Sequence[str] | None = None
) -> dict[str, Any]:
    """What every kind says: the frames in order and their magnification."""
    known = [s.magnification for s in shots if s.magnification]
    return {
        "frames": [
            {"file": s.file, "taken_at": s.recorded.taken_at, "order": k + 1}
            for k, s in enumerate(shots)
        ],
        "ordered_by": "time" if timed else "as given: not every frame holds a time",
        "magnification": round(float(np.median(known)), 4) if known else None,
    }


def rounded(value: float | None, digits: int = 3) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), digits)

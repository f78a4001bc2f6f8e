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
    """`detail` is the sharpness per block, `luma` the picture at 512 pixels, as shown.

    `coarse` is the sharpness of the same blocks in the picture made four times smaller: against
    it `detail` says how blurred a block is. `colour` is the picture at some 96 pixels,
    (M, N, 3) in 8-bit sRGB; None for a grey one.
    """

    file: str
    recorded: Recorded
    reading: Reading
    detail: Array
    luma: Array
    width_px: int
    height_px: int
    evidence: dict[str, Any] = field(default_factory=dict)
    colour: Array | None = None
    coarse: Array | None = None
    picture: Array | None = None  # luminance at 1600 pixels; only where a ruler is looked for

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


def standing_out(steps: Array, limit: float, times_usual: float = 5.0) -> list[int]:
    """Positions of steps that stand out; what drifts evenly, as the content does, is none."""
    found = []
    for k, step in enumerate(steps):
        around = [steps[j] for j in range(max(0, k - 3), min(len(steps), k + 4)) if j != k]
        near = [v for v in around if math.isfinite(v)]
        usual = float(np.median(near)) if len(near) >= 3 else 0.0
        scatter = float(np.median(np.abs(np.array(near) - usual))) if len(near) >= 3 else 0.0
        # flicker makes all steps large: then the scatter must not excuse them
        scatter = min(scatter, limit / times_usual)
        if abs(step - usual) > max(limit, times_usual * scatter):
            found.append(k)
    return found


def rounded(value: float | None, digits: int = 3) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), digits)

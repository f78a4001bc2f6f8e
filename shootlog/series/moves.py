"""How the picture moved from frame to frame, and which of it the travel does not explain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optics.evidence.registration import Alignment, best_fit, composed, inverse
from shootlog.findings.base import Outcome
from shootlog.series.outcomes import between, outcome
from shootlog.series.shot import Array, Shot

LIMIT_SHIFT_LUMA_PX = 0.5  # of the 512-pixel picture: what registration surely sees
LIMIT_SHIFT_PX = 1.2  # of the frame
LIMIT_TURN_DEG = 0.05
LIMIT_TIMES_USUAL = 5.0
NEIGHBOURS = 3


@dataclass(frozen=True)
class Chain:
    """Alignment of each frame onto the next, in pixels of `luma`; None where none holds."""

    pairs: list[Alignment | None]

    def to(self, reference: int, frame: int) -> Alignment | None:
        """Take the reference frame onto another, step by step; None across a broken link."""
        low, high = min(reference, frame), max(reference, frame)
        total = Alignment((0.0, 0.0), 1.0, 0.0)
        for pair in self.pairs[low:high]:
            if pair is None:
                return None
            total = composed(total, pair)
        return total if frame >= reference else inverse(total)

    @property
    def unlike(self) -> list[list[int]]:
        """Neighbours, from 1, that could not be laid over each other."""
        return [[k + 1, k + 2] for k, pair in enumerate(self.pairs) if pair is None]

    @property
    def log_scale(self) -> Array:
        return np.array([np.log(p.scale) if p else np.nan for p in self.pairs])


def chain(shots: Sequence[Shot]) -> Chain:
    """Register each frame against the next."""
    pairs: list[Alignment | None] = []
    for first, second in zip(shots, shots[1:], strict=False):
        if first.luma.shape != second.luma.shape or min(first.luma.shape) < 48:
            pairs.append(None)
            continue
        fit = best_fit(first.luma, second.luma)
        pairs.append(fit.alignment if fit.holds else None)
    return Chain(pairs)


def moves(shots: Sequence[Shot], links: Chain, steps: Array | None = None) -> list[dict[str, Any]]:
    """Shifts and turns beyond what the neighbours of each step show.

    A rail not quite along the lens shifts every frame by as much as the last, and breathing
    scales evenly: the neighbours say so. `steps` are the travel's lengths where known: a step
    twice as long drifts twice as far.
    """
    known = [k for k, pair in enumerate(links.pairs) if pair]
    found = []
    for k in known:
        pair = links.pairs[k]
        near = [j for j in known if j != k and abs(j - k) <= NEIGHBOURS]
        if pair is None or len(near) < 2:
            continue
        length = (
            1.0 if steps is None or not np.isfinite(steps[k]) else float(np.clip(steps[k], 0, 4))
        )
        shifts = np.array([links.pairs[j].shift for j in near])  # type: ignore[union-attr]
        turns = np.array([links.pairs[j].turn_deg for j in near])  # type: ignore[union-attr]
        usual, scatter = _usual(shifts)
        excess = min(np.hypot(*(np.array(pair.shift) - usual * n)) for n in (1.0, length))
        turn, turn_scatter = _usual(turns[:, None])
        turned = pair.turn_deg - float(turn[0])
        scale = shots[k].scale
        limit = max(LIMIT_SHIFT_LUMA_PX, LIMIT_SHIFT_PX / scale, LIMIT_TIMES_USUAL * scatter)
        limit_turn = max(LIMIT_TURN_DEG, LIMIT_TIMES_USUAL * turn_scatter)
        if excess > limit or abs(turned) > limit_turn:
            found.append(
                {
                    "between": [k + 1, k + 2],
                    "shift_px": round(float(excess) * scale, 1),
                    "turn_deg": round(turned, 3),
                }
            )
    return found


def _usual(values: Array) -> tuple[Array, float]:
    middle = np.median(values, axis=0)
    scatter = float(np.median(np.linalg.norm(values - middle, axis=1)))
    return middle, scatter


def outcome_of(found: Sequence[dict[str, Any]], limit_px: float = LIMIT_SHIFT_PX) -> Outcome:
    """Say where the camera or the subject was moved."""
    if not found:
        return outcome("stack-moved", "no", "measured", limit=limit_px)
    pairs = [f["between"] for f in found]
    most = max(f["shift_px"] for f in found)
    turn = max(abs(f["turn_deg"]) for f in found)
    how = f"by {most:.0f} pixels" if most >= 1.5 else f"by a turn of {turn:.2f} degrees"
    return outcome(
        "stack-moved",
        "yes",
        "measured",
        f"The picture moved {between(pairs)}, {how}, more than the travel explains.",
        "Lock the head, let go of the rail before each frame, and use the release.",
        shift_px=most,
        turn_deg=turn,
        limit=limit_px,
    )


def unlike_outcome(links: Chain) -> Outcome:
    """Say which neighbours do not show the same thing."""
    pairs = links.unlike
    if not pairs:
        return outcome("stack-unlike", "no", "measured")
    first, last = pairs[0]
    others = len(pairs) - 1
    more = f", nor do {others} other pairs" if others > 1 else ""
    if others == 1:
        more = ", nor do {} and {}".format(*pairs[1])
    return outcome(
        "stack-unlike",
        "yes",
        "measured",
        f"Frames {first} and {last} do not show the same thing{more}.",
        "Leave out what does not belong here, and look again.",
    )

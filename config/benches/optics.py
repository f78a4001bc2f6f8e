"""The exact transfer function for many pairs at once, against a plain loop of the same integral."""

import math

import numpy as np

from config import measuring
from optics.blur import defocused_otf
from optics.transfer import squared_nodes

PAIRS = 1000
FREQUENCIES = 256
LOOPED = 4  # pairs the plain loop does; its time is taken times PAIRS / LOOPED


def plain_loop(cycles, pairs):
    """The same quadrature in plain Python, point by point, at one panel's rule or more."""
    result = []
    for f_number, waves in pairs:
        for frequency in cycles:
            nu = min(0.55 * f_number * frequency / 1000.0, 1.0)
            phase = 8.0 * math.pi * abs(waves) * nu * (1.0 - nu)
            panels = 2 ** math.ceil(math.log2(max(phase / 8.0, 1.0)))
            rest, phase = 1.0 - nu, max(phase, 1e-6)
            total = 0.0
            for y2, weight in zip(*PLAIN_NODES[panels], strict=True):
                u = 1.0 - rest * y2
                total += weight * math.sin(phase * (1.0 - y2)) * u / math.sqrt(1.0 + u)
            result.append(8.0 / math.pi * rest**1.5 / phase * total)
    return result


PLAIN_NODES = {n: tuple(part.tolist() for part in squared_nodes(n)) for n in (1, 2, 4)}


def defocused():
    random = np.random.default_rng(1)
    f_numbers, waves = random.uniform(4.0, 45.0, PAIRS), random.uniform(0.0, 2.0, PAIRS)
    cycles = np.linspace(0.0, 40.0, FREQUENCIES)  # up to the cut-off of the smallest stop
    pairs = list(zip(f_numbers.tolist(), waves.tolist(), strict=True))[:LOOPED]
    swept = defocused_otf(cycles, f_numbers[:, None], waves[:, None])[:LOOPED]
    apart = float(np.abs(swept.ravel() - plain_loop(cycles.tolist(), pairs)).max())
    if apart > 1e-9:
        raise ValueError(f"the two differ by {apart:g}")
    took = measuring.paired(
        lambda: defocused_otf(cycles, f_numbers[:, None], waves[:, None]),
        lambda: plain_loop(cycles.tolist(), pairs),
        n=5,
    )
    scale = PAIRS / LOOPED
    return took | {
        "ratio": round(took["ratio"] * scale, 1),
        "spread": round(took["spread"] * scale, 1),
        "against": "a plain Python loop of the same integral, 24 nodes to a panel "
        f"(timed on {LOOPED} of {PAIRS} pairs); higher is faster",
        "apart": apart,
    }


BENCHES = {"defocused-mtf": defocused}

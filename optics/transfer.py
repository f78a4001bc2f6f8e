"""Hopkins' integral itself: by Gauss's rule, or for many points from polynomials made by it.

The transfer function of a round stop, over its phase 8 pi W nu (1 - nu) and
the share nu of the cut-off, is smooth: divided by (1 - nu)^1.5 a polynomial
of low degree holds it on a small cell to 12 digits. Where thousands of
points are asked for, the cells they fall into are made once and kept.
"""

import functools
import math

import numpy as np

from optics.given import Floats

NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)
PHASE_PER_PANEL = 8.0  # radians; 24 nodes then hold 12 digits
POINTS_AT_ONCE = 2048  # keeps the work in the processor's cache
CELL_AT_ONCE = 4096
MANY = 4096  # points that make it worth while to look into cells
CELLS_TO = 32.0  # radians of phase; beyond, few points share a cell
CELL_PHASE, CELLS_ACROSS = 1.0, 4
DEGREE_PHASE, DEGREE_NU = 8, 9


def normalised_otf(nu: Floats, waves: Floats) -> Floats:
    """Transfer function for frequencies as shares of the cut-off, 0 to 1, and waves, 0 or more."""
    phase = 8.0 * math.pi * waves * nu * (1.0 - nu)
    if nu.size < MANY:
        return by_quadrature(nu, phase)
    result = np.empty(nu.shape)
    far = phase >= CELLS_TO
    if not far.any():
        return by_cells(nu, phase)
    result[far] = by_quadrature(nu[far], phase[far])
    result[~far] = by_cells(nu[~far], phase[~far])
    return result


def by_cells(nu: Floats, phase: Floats) -> Floats:
    """From the polynomials of the cells, all points of a cell together."""
    across = np.minimum(nu * CELLS_ACROSS, CELLS_ACROSS - 1).astype(np.int16)
    cells = (phase / CELL_PHASE).astype(np.int16) * np.int16(CELLS_ACROSS) + across
    order = np.argsort(cells, kind="stable")
    nu, phase = nu[order], phase[order]
    ends = np.cumsum(np.bincount(cells)).tolist()
    in_order = np.empty(nu.shape)
    for cell, end in enumerate(ends):
        begin = ends[cell - 1] if cell else 0
        for start in range(begin, end, CELL_AT_ONCE):
            part = slice(start, min(start + CELL_AT_ONCE, end))
            in_order[part] = in_cell(cell, nu[part], phase[part])
    result = np.empty(nu.shape)
    result[order] = in_order
    return result


def in_cell(cell: int, nu: Floats, phase: Floats) -> Floats:
    """Points of one cell, from its polynomial."""
    along, across = divmod(cell, CELLS_ACROSS)
    terms = cell_polynomial(along, across) @ chebyshev(
        nu * (2.0 * CELLS_ACROSS) - (2.0 * across + 1.0), DEGREE_NU
    )
    terms *= chebyshev(phase * (2.0 / CELL_PHASE) - (2.0 * along + 1.0), DEGREE_PHASE)
    rest = 1.0 - nu
    smooth: Floats = terms.sum(axis=0)
    return smooth * rest * np.sqrt(rest)


@functools.cache
def cell_polynomial(along: int, across: int) -> Floats:
    """Chebyshev coefficients of OTF / (1 - nu)^1.5 on one cell, phase by nu."""
    in_phase, in_nu = chebyshev_points(DEGREE_PHASE), chebyshev_points(DEGREE_NU)
    phase = CELL_PHASE * (along + 0.5 * (in_phase + 1.0))[:, None]
    nu = (across + 0.5 * (in_nu + 1.0))[None, :] / CELLS_ACROSS
    phase, nu = np.broadcast_arrays(phase, nu)
    values = by_quadrature(nu.ravel(), phase.ravel()).reshape(nu.shape) / (1.0 - nu) ** 1.5
    half = fit(DEGREE_PHASE) @ values
    coefficients: Floats = half @ fit(DEGREE_NU).T
    return coefficients


def chebyshev_points(degree: int) -> Floats:
    """Zeros of the next polynomial, where interpolation strays least."""
    points: Floats = np.cos(math.pi * (np.arange(degree + 1) + 0.5) / (degree + 1))
    return points


def fit(degree: int) -> Floats:
    """From values at the Chebyshev points to coefficients."""
    matrix = chebyshev(chebyshev_points(degree), degree) * (2.0 / (degree + 1))
    matrix[0] *= 0.5
    return matrix


def chebyshev(x: Floats, degree: int) -> Floats:
    """The first Chebyshev polynomials at x, a row to each degree."""
    rows = np.empty((degree + 1, x.size))
    rows[0] = 1.0
    rows[1] = x
    twice = 2.0 * x
    for k in range(2, degree + 1):
        np.multiply(twice, rows[k - 1], out=rows[k])
        rows[k] -= rows[k - 2]
    return rows


def by_quadrature(nu: Floats, phase: Floats) -> Floats:
    """Hopkins' integral by Gauss's rule, in chunks."""
    # Panels as powers of two, so that few different rules are used.
    panels = 2 ** np.ceil(np.log2(np.maximum(phase / PHASE_PER_PANEL, 1.0))).astype(np.int64)
    result = np.empty(nu.shape)
    for count in np.unique(panels):
        where = np.flatnonzero(panels == count)
        at_once = max(1, POINTS_AT_ONCE // int(count))
        for start in range(0, where.size, at_once):
            part = where[start : start + at_once]
            result[part] = integral(nu[part], phase[part], int(count))
    return result


def integral(nu: Floats, phase: Floats, panels: int) -> Floats:
    """The integral over y from 0 to 1, one row of nodes to each point."""
    y2, weights = squared_nodes(panels)
    rest = 1.0 - nu
    # sin(phase x) / phase, finite as the phase goes to nothing.
    phase = np.maximum(phase, 1e-6)
    wave = np.multiply.outer(phase, 1.0 - y2)
    np.sin(wave, out=wave)
    cosine = np.multiply.outer(-rest, y2)
    cosine += 1.0
    wave *= cosine
    cosine += 1.0
    np.sqrt(cosine, out=cosine)
    wave /= cosine
    return 8.0 / math.pi * rest**1.5 / phase * (wave @ weights)


@functools.cache
def squared_nodes(panels: int) -> tuple[Floats, Floats]:
    """Squares of the nodes and the weights of a Gauss rule in equal panels."""
    edges = np.arange(panels)[:, None]
    nodes = (edges + 0.5 * (NODES + 1.0)) / panels
    weights = np.broadcast_to(0.5 * WEIGHTS / panels, nodes.shape)
    return nodes.ravel() ** 2, weights.ravel()

"""What a disc of equal blur leaves of a wave. Widths in periods of the wave, so without a unit."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

NODES = 48


def disc_response(periods: npt.NDArray[Any]) -> Array:
    """Return 2 J1(x) / x, x = pi times the width of the disc in periods of the wave.

    Parameters
    ----------
    periods : ndarray of any shape
        Diameter of the disc times the frequency of the wave, 0 to 45.

    Returns
    -------
    ndarray of the same shape
        1 for no disc; below 0 where the wave comes out with dark and light changed places.

    Notes
    -----
    The geometric limit of defocus (Goodman, Introduction to Fourier Optics, 3rd ed., 6.4), by
    Gauss's rule with the weight sqrt(1 - t^2), which is right to 1e-9 up to 45.
    """
    x = np.pi * np.asarray(periods, float)
    total = np.zeros_like(x)
    # one node after another: all at once took 40 MB, more than anything else in reading a frame
    for angle in np.arange(1, NODES + 1) * np.pi / (2 * NODES + 1):  # the other half is the same
        total += np.sin(angle) ** 2 * np.cos(np.cos(angle) * x)
    return total * 4.0 / (2 * NODES + 1)

"""Light behind the 8-bit values of a picture (sRGB, IEC 61966-2-1)."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

WHITE = 255


def light_of(values: NDArray[Any]) -> NDArray[np.floating[Any]]:
    """Return linear light, 0 to 1, of 8-bit sRGB values; of their shape.

    Values of 32-bit floats stay in 32 bits, all others come in 64. A camera's own curve is
    steeper than this one, so steps between pictures read a little high.
    """
    share = np.asarray(values) / WHITE
    light: NDArray[np.floating[Any]] = np.where(
        share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4
    )
    return light

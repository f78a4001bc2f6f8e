"""An aperture series made of one texture, sharpest at a stop one chooses."""

import numpy as np
from scipy.ndimage import gaussian_filter

from tests.shootlog.series import stacks
from tests.shootlog.series.stacks import recorded_at, shots_of, still

STOPS = (2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)


def aperture_series(best, *, move_at=None):
    """Blur smallest at `best`, growing as a lens opens and as it closes."""
    rng = np.random.default_rng(5)
    picture = stacks.textured(rng, (440, 640))
    frames = []
    for k, f in enumerate(STOPS):
        off = 3 if move_at is not None and k >= move_at else 0
        blur = 0.8 * np.sqrt((best / f) ** 2 + (f / best) ** 2)
        seen = gaussian_filter(picture, blur)[20 + off : 420 + off, 20:620]
        frames.append(np.clip(seen + rng.normal(0, 1.5, stacks.SIZE), 0, 255).astype(np.float32))
    return shots_of(
        still(frames), recorded=[recorded_at(k, f_number=f) for k, f in enumerate(STOPS)]
    )

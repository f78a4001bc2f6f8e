"""Light of 8-bit values, against the standard's own landmarks and a general library's."""

import numpy as np
import pytest
from skimage import color

from optics.evidence.srgb import light_of


@pytest.mark.parametrize(
    ("value", "light"),
    # IEC 61966-2-1: straight up to 0.04045 (10.3 of 255), a power of 2.4 above; from memory
    [(0, 0.0), (10, 10 / 255 / 12.92), (255, 1.0), (188, 0.5029)],
)
def test_landmarks_of_the_standard(value, light):
    assert light_of(np.uint8(value)) == pytest.approx(light, abs=1e-4)


def test_all_values_as_a_general_library_has_them():
    """scikit-image, sRGB to XYZ: of a grey, Y over the white's Y."""
    ramp = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
    y = color.rgb2xyz(ramp)[:, 1]
    np.testing.assert_allclose(light_of(ramp[:, 1]), y / y[-1], atol=1e-6)


def test_32_bits_stay_32_bits():
    assert light_of(np.zeros(3, np.float32)).dtype == np.float32
    assert light_of(np.zeros(3, np.uint8)).dtype == np.float64

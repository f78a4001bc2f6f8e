"""The stop that keeps most contrast, from Hopkins' integral done with scipy.

H. H. Hopkins, The frequency response of a defocused optical system, Proc. R. Soc. A 231 (1955), 91;
J. W. Goodman, Introduction to Fourier Optics, on the optical transfer function.
"""

import math

import numpy as np
from scipy.integrate import quad

GREEN_UM = 0.55


def kept(effective, image_shift_mm, cycles_mm):
    nu = cycles_mm * GREEN_UM / 1000 * effective
    if nu >= 1:
        return 0.0
    waves = image_shift_mm * 1000 / (8 * effective**2) / GREEN_UM

    def strip(x):
        return math.sqrt(1 - (x + nu) ** 2) * math.cos(8 * math.pi * waves * nu * x)

    return abs(4 / math.pi * quad(strip, 0, 1 - nu, limit=200)[0])


def best_f_number(*, magnification, focal_length_mm, pitch_um, behind_mm, cycles_px):
    """Marked f-number of a thin lens for what lies so far behind the plane of focus."""
    m, f = magnification, focal_length_mm
    u = f * (1 + 1 / m) + behind_mm
    shift = abs(1 / (1 / f - 1 / u) - f * (1 + m))
    numbers = np.geomspace(2, 45, 180)
    contrast = [kept(n * (1 + m), shift, cycles_px / pitch_um * 1000) for n in numbers]
    return float(numbers[int(np.argmax(contrast))])


def stops_apart(first, second):
    return abs(2 * math.log2(first / second))

"""Against SciPy's Bessel function (Goodman, Introduction to Fourier Optics, 6.4)."""

import numpy as np
import pytest
from scipy.special import j1, jn_zeros

from optics.evidence.disc_response import disc_response


def test_it_is_scipys_as_wide_as_it_is_asked():
    periods = np.linspace(0.001, 45, 5000).reshape(50, 100)
    x = np.pi * periods
    assert disc_response(periods) == pytest.approx(2 * j1(x) / x, abs=1e-9)


def test_no_disc_takes_nothing_and_the_first_ring_is_dark():
    assert disc_response(np.array([0.0, jn_zeros(1, 1)[0] / np.pi])) == pytest.approx([1, 0])

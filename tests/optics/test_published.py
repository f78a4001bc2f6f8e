"""Every published value, within the tolerance of its row; the sources stand in the rows."""

import numpy as np
import pytest

from optics.aperture import effective_f_number
from optics.conjugates import internal_focus_focal_length_mm
from optics.exposure import flash_stop_motion_s
from optics.ranges import within_stops
from tests.optics.evidence_pixels import truth
from tests.optics.published import ASK, ELSEWHERE, FOLDER, rows

ALL = list(rows())


def named(row):
    return row["id"]


@pytest.mark.parametrize("row", [r for r in ALL if r["quantity"] in ASK], ids=named)
def test_a_published_value_comes_out(row):
    got = ASK[row["quantity"]](row["inputs"])
    allowed = float(row["rel_tol"])
    # A relative tolerance of nothing means a count.
    assert got == pytest.approx(float(row["value"]), rel=max(allowed, 1e-12))


def test_no_value_is_left_out_without_a_reason():
    unanswered = {row["quantity"] for row in ALL} - set(ASK)
    assert unanswered == set(ELSEWHERE)
    assert all(len(reason) > 20 for reason in ELSEWHERE.values())
    assert sum(row["quantity"] in ASK for row in ALL) > 170


def test_each_table_names_its_source_first():
    for path in FOLDER.glob("*.csv"):
        first, *rest = path.read_text(encoding="utf-8").splitlines()
        assert first.startswith("# Source: "), path.name
        assert rest
    assert all(row["source"] for row in ALL)


def values_of(quantity):
    return [row for row in ALL if row["quantity"] == quantity]


def test_a_recorded_effective_number_lies_within_the_allowance_for_internal_focus():
    # optics says: N (1 + m), give or take 0.4 stop, where p must not be used; this lens needs 0.45.
    for row in values_of("recorded_f_number_wide_open"):
        marked = row["inputs"]["marked_f_number"]
        worked_out = effective_f_number(marked, row["inputs"].get("magnification", 1e-9))
        allowed = within_stops(worked_out, 0.45)
        assert allowed.low <= float(row["value"]) <= allowed.high


def test_the_straight_line_of_an_internal_focus_lens_is_five_per_cent_from_a_patent():
    (row,) = values_of("internal_focus_focal_length_ratio_to_infinity")
    line = internal_focus_focal_length_mm(row["inputs"]["magnification"], 104.0, 75.0, 1.0)
    assert line / 104.0 == pytest.approx(float(row["value"]), rel=0.05)


def test_the_default_wavelength_is_within_two_per_cent_of_daylights():
    (row,) = values_of("luminance_weighted_effective_wavelength")
    assert float(row["value"]) == pytest.approx(550.0, rel=0.02)


def test_a_full_power_flash_stops_motion_three_times_longer_than_printed():
    for row in values_of("flash_duration_t0_5"):
        printed_s = float(row["value"]) * 1e-6
        assert 3.3 * printed_s < flash_stop_motion_s(printed_s) < 3.33 * printed_s


def test_an_even_smear_first_vanishes_at_one_over_its_length():
    # What the smeared pictures of tests/optics/evidence_pixels are made with.
    (row,) = values_of("motion_blur_first_spectral_zero")
    length_px = row["inputs"]["blur_length_px"]
    response = truth.smear((16, 16 * 64), length_px, 0.0)[0]
    across = truth.frequencies((16, 16 * 64))[0][0]
    first = across[np.flatnonzero(np.diff(np.sign(response)))[0]]
    step = across[1] - across[0]
    assert abs(first - float(row["value"])) <= step

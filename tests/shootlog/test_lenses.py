"""The table of close-up lenses: whole, sourced, and true to the formulas where both speak."""

import pytest

from optics.accessories import focal_length_from_tube_mm
from optics.conjugates import sensor_to_subject_mm
from shootlog.lenses import TABLE, find_lens, lens_table


def test_every_row_has_a_source_and_sane_numbers():
    for lens in lens_table().values():
        assert len(lens.source) > 20
        assert lens.records in (None, "marked", "effective")
        assert lens.closest_mm is None or 100 < lens.closest_mm < 1000
        assert lens.largest_ratio is None or 0.4 < lens.largest_ratio <= 5


def test_a_name_is_found_whatever_its_case_and_blanks():
    assert find_lens("EF100mm  f/2.8L Macro IS USM").closest_focal_length_mm == 75.0
    assert find_lens("EF100mm f/2.8 Macro USM").closest_focal_length_mm == 63.2


@pytest.mark.parametrize("name", [None, "", "EF50mm f/1.8 STM", "105mm"])
def test_a_lens_not_in_the_table_is_not_guessed(name):
    assert find_lens(name) is None


def test_nikon_micro_lenses_record_effective_and_canon_macro_lenses_marked():
    # Nikon AF-S DX Micro 40mm f/2.8G manual p. 17; Canon MP-E 65 booklet p. 7.
    assert find_lens("AF-S VR Micro-Nikkor 105mm f/2.8G IF-ED").records == "effective"
    assert find_lens("MP-E65mm f/2.8 1-5x Macro Photo").records == "marked"


def test_the_focal_length_of_the_100_mm_follows_from_canons_tube_table():
    # Canon: EF12 raises 1.00 to 1.19 at the closest focus.
    known = find_lens("EF100mm f/2.8 Macro USM").closest_focal_length_mm
    assert known == pytest.approx(focal_length_from_tube_mm(1.0, 1.19, 12.0), abs=0.05)


def test_the_life_size_lens_of_fixed_focal_length_needs_four_of_them():
    lens = find_lens("EF-S60mm f/2.8 Macro USM")
    assert sensor_to_subject_mm(lens.closest_focal_length_mm, 1.0) == lens.closest_mm


def test_comments_stand_before_the_heading():
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    assert [line[0] == "#" for line in lines[:4]] == [True, True, True, False]

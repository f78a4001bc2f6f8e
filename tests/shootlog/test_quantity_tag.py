"""One way of rounding on pages, for a live reading and for the one kept in the database."""

import pytest
from django.template import Context, Template

from shootlog.findings.samples import sample

READING = sample(exposure_s=0.008, airy_diameter_um=42.93, magnification=(0.8, 1.0), f_number=5.6)


@pytest.mark.parametrize("kept", [READING, READING.as_json()])
@pytest.mark.parametrize(
    ("name", "text"),
    [("exposure_s", "1/125 s"), ("airy_diameter_um", "43 µm"), ("f_number", "f/5.6"),
     ("magnification", "0.80 to 1.0 times"), ("iso", "not known")],
)  # fmt: skip
def test_number_and_unit(kept, name, text):
    page = Template("{% load quantity %}{{ reading|quantity:name }}")
    assert page.render(Context({"reading": kept, "name": name})) == text


def test_nothing_read_yet_is_not_known():
    page = Template('{% load quantity %}{{ reading|quantity:"iso" }}{{ "iso"|quantity_label }}')
    assert page.render(Context({"reading": None})) == "not knownISO"

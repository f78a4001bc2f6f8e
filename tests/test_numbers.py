"""The page of formulas: every one there, each drawn and with its source; the reader of formulas."""

import re
from xml.etree import ElementTree

import pytest

from config.mathml import as_mathml, equations
from config.numbers import groups, in_range, name_in_words, plain
from optics.given import Limit
from tests.optics.everything import formulas, parameters, public_functions


def entries():
    return {entry.name: entry for group in groups() for entry in group.entries}


def test_every_public_function_of_optics_is_there_with_its_source(client):
    page = client.get("/numbers/").content.decode()
    for function in public_functions():
        entry = entries()[function.__name__]
        written = page.partition(f'id="{function.__name__}"')[2].partition("</article>")[0]
        assert entry.words in written.replace("&#x27;", "'")
        source = re.search(r'class="source">([^<]+)<', written)
        assert source, f"{function.__name__} stands without its source"
        assert len(source[1]) > 10
        assert ("<math" in written) == bool(entry.drawn)


def test_anyone_may_read_it_and_it_is_linked_from_every_foot(client):
    response = client.get("/numbers/")
    assert response.status_code == 200
    assert 'href="/numbers/"' in response.content.decode().partition("<footer")[2]
    assert client.post("/numbers/").status_code == 405


def test_every_range_stands_beside_its_parameter():
    effective = entries()["effective_f_number"]
    assert [one.between for one in effective.inputs] == [
        "0.1 to 100\u202f000",
        "10\u207b\u00b9\u00b2 to 10\u202f000",
        "0.01 to 100",
    ]
    for entry in entries().values():
        if entry.drawn and entry.name != "sweep":
            assert all(one.about for one in entry.inputs)


def test_every_formula_is_sound_markup_that_says_what_was_written():
    drawn = [line for entry in entries().values() for line in entry.drawn]
    assert len(drawn) > 80
    for line in drawn:
        root = ElementTree.fromstring(line.replace("&#8290;", "").replace("&#8289;", ""))
        if root.tag != "math":
            continue
        # Every digit of the docstring stands in what is drawn.
        shown = "".join(root.itertext())
        assert sorted(re.findall(r"\d", root.get("alttext"))) == sorted(re.findall(r"\d", shown))


@pytest.mark.parametrize(
    ("written", "drawn"),
    [
        ("c = d / 1500", "<mfrac><mrow><mi>d</mi></mrow><mrow><mn>1500</mn></mrow></mfrac>"),
        ("m = sqrt(x)", "<msqrt><mi>x</mi></msqrt>"),
        ("s = m0", "<msub><mi>m</mi><mn>0</mn></msub>"),
        ("s = f_inf", "<msub><mi>f</mi><mi>\u221e</mi></msub>"),
        ("s = x^2", "<msup><mrow><mi>x</mi></mrow><mrow><mn>2</mn></mrow></msup>"),
        ("s = sensor width / k", "<mtext>sensor width</mtext>"),
        ("s = ceil(x)", "<mo>\u2308</mo><mi>x</mi><mo>\u2309</mo>"),
    ],
)
def test_a_formula_is_read_as_it_is_meant(written, drawn):
    assert drawn in as_mathml(written)


def test_a_fraction_takes_all_before_it_and_one_thing_after_it():
    # H / 2 (a): half of H, times a.
    root = ElementTree.fromstring(as_mathml("n = H / 2 (a)").replace("&#8290;", "*"))
    assert "".join(root.itertext()) == "n=H2*(a)"
    assert len(root.findall("mfrac")) == 1


@pytest.mark.parametrize("written", ["a = (b", "a = b)", "a = ;", "a = /", "= ="])
def test_what_cannot_be_read_is_said(written):
    with pytest.raises(ValueError, match="cannot read|expected"):
        as_mathml(written)


def test_several_equations_become_several_lines():
    assert equations("near, far = a / (1 + q), a / (1 - q), q = c / f, where f is known") == [
        "near, far = a / (1 + q), a / (1 - q)",
        "q = c / f",
        "where f is known",
    ]


def test_numbers_and_names_are_said_as_people_say_them():
    assert plain(1e-12) == "10\u207b\u00b9\u00b2"
    assert plain(1e7) == "10\u2077"
    assert in_range(Limit(0.5, float("inf"))) == "0.5 to infinity"
    assert name_in_words("depth_of_field_mm") == ("depth of field", "mm")
    assert name_in_words("coc_mm_from_diagonal") == ("circle of confusion from diagonal", "mm")


# Ratios, f-numbers and counts have no unit; APEX, ISO and dioptres are units of their own.
DIMENSIONLESS = re.compile(
    r"magnification|f-number|factor|share|overlap|frames|pixels|waves|stops|APEX|ISO|exposure value"
    r"|divisor|enlargement|oversampling|index|numerical aperture|cycles per pixel"
)


def test_every_parameter_of_a_formula_has_a_unit_or_none_by_nature_and_a_range():
    for function in formulas():
        entry = entries()[function.__name__]
        assert len(entry.inputs) == len(parameters(function))
        for one in entry.inputs:
            assert one.unit or DIMENSIONLESS.search(one.words), f"{entry.name}: {one.words}"
            assert " to " in one.between, f"{entry.name}: {one.words} has no range"
            assert len(one.about) > 5

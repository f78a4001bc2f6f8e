"""Marks leave as W3C Web Annotations and come back unchanged.

Shapes of the selectors: Web Annotation Data Model, W3C Recommendation 23 February 2017, examples 23
(fragment selector) and 28 (SVG selector); media fragments 1.0, section 4.2.2 (`xywh=percent:`).
"""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from course.marks import KINDS, NotAMark, annotation, annotations, said_aloud, short_mark

share = st.floats(0, 1).map(lambda x: round(x, 4))
marks = st.sampled_from(sorted(KINDS)).flatmap(
    lambda kind: st.fixed_dictionaries(
        {
            "kind": st.just(kind),
            "at": st.lists(share, min_size=KINDS[kind], max_size=KINDS[kind]),
            "words": st.text(st.characters(exclude_categories=["C", "Z"]), max_size=40),
        }
    )
)


@given(marks)
def test_a_mark_comes_back_as_it_was_made(mark):
    back = short_mark(annotation(mark, source="urn:frame:1"))
    assert back["kind"] == mark["kind"]
    assert back["at"] == pytest.approx(mark["at"], abs=2e-5)
    assert back["words"] == mark["words"]


def test_an_area_is_a_fragment_selector_in_percent():
    kept = annotation({"kind": "corners", "at": [0.1, 0.2, 0.5, 0.25]}, source="urn:frame:1")
    selector = kept["target"]["selector"]
    assert selector["type"] == "FragmentSelector"
    assert selector["conformsTo"] == "http://www.w3.org/TR/media-frags/"
    assert re.fullmatch(r"xywh=percent:[\d.]+,[\d.]+,[\d.]+,[\d.]+", selector["value"])
    assert kept["@context"] == "http://www.w3.org/ns/anno.jsonld"
    assert kept["type"] == "Annotation"


def test_a_ring_is_an_svg_selector():
    kept = annotation({"kind": "ring", "at": [0.5, 0.5, 0.1]}, source="urn:frame:1")
    selector = kept["target"]["selector"]
    assert selector["type"] == "SvgSelector"
    assert selector["value"].startswith('<svg xmlns="http://www.w3.org/2000/svg"><circle ')


@pytest.mark.parametrize(
    ("mark", "word"),
    [
        ({"kind": "star", "at": [0, 0, 0]}, "star"),
        ({"kind": "ring", "at": [0.5, 0.5]}, "3 numbers"),
        ({"kind": "ring", "at": "0.5"}, "3 numbers"),
        ({"kind": "ring", "at": [0.5, 0.5, math.nan]}, "nan"),
        ({"kind": "line", "at": [0.5, 0.5, 2, 0.5]}, "outside the picture"),
        ({"kind": "line", "at": [0.5, "x", 0.2, 0.5]}, "no position"),
        ({"kind": "line", "at": [True, 0, 0, 0]}, "no position"),
    ],
)
def test_what_cannot_be_kept_is_named(mark, word):
    with pytest.raises(NotAMark, match=re.escape(word)):
        annotation(mark, source="urn:frame:1")


def test_a_mark_on_someone_elses_picture_is_refused():
    with pytest.raises(NotAMark, match="not in this hand-in"):
        annotations([{"kind": "ring", "at": [0.5, 0.5, 0.1], "frame": 2}], sources={1: "urn:1"})


def test_where_a_mark_is_can_be_read_aloud():
    assert said_aloud({"kind": "ring", "at": [0.1, 0.1, 0.02]}) == "Look here, top left"
    assert said_aloud({"kind": "corners", "at": [0.4, 0.4, 0.2, 0.2]}) == "This part, middle"

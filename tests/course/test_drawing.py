"""Drawings of a course on paper: the same shapes, black on white, every word legible."""

import functools
import io
import re
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream
from reportlab.pdfgen.canvas import Canvas

from course.drawing import READERS, NotOurs, Picture
from course.field_card import Block, Card
from course.paper import LEAST_PT, handout_pdf
from course.plain_text import blocks

PICTURES = Path(__file__).parents[2] / "fixtures" / "demo" / "course" / "pictures"
SHIPPED = sorted(PICTURES.glob("*.svg"))
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 100" fill="none" stroke="#000">'
CARD = Card(
    "Week 1", "Sam · Spring", datetime(2026, 5, 1, 9, tzinfo=UTC), [Block("Do", ["x"])], "http://x/"
)


def svg(inside):
    return f"{HEAD}{inside}</svg>".encode()


def handout(text, pictures, size="a4", points=14):
    data = handout_pdf("Slices", blocks(text), CARD, size=size, points=points, pictures=pictures)
    return PdfReader(io.BytesIO(data))


@functools.cache
def of_shipped(path, size):
    """A handout with one of our drawings; made once for all that is asked of it."""
    text = f"Look.\n\n![A way of saying it](pictures/{path.name})"
    return handout(text, {f"pictures/{path.name}": path.read_bytes()}, size)


def operations(page):
    return ContentStream(page.get_contents(), page.pdf).operations


def pieces(page):
    """Every piece of text in the order it was drawn, with where it stands."""
    found = []
    page.extract_text(visitor_text=lambda text, cm, tm, *_: found.append((text, cm, tm)))
    return [one for one in found if one[0].strip()]


def test_there_are_seven():
    assert len(SHIPPED) == 7


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
@pytest.mark.parametrize("size", ["a4", "a5"])
def test_a_shipped_drawing_is_on_its_own_leaf_with_all_its_words(path, size):
    """Words as they stand in the SVG, read with another XML walk than the drawer's."""
    reader = of_shipped(path, size)
    leaf = reader.pages[-1]
    found = re.sub(r"\s", "", "".join(text for text, *_ in pieces(leaf)))
    namespace = {"s": "http://www.w3.org/2000/svg"}
    for element in ElementTree.fromstring(path.read_text()).iterfind(".//s:text", namespace):
        assert re.sub(r"\s", "", "".join(element.itertext())) in found
    assert "Drawing1:Awayofsayingit" in found
    assert "Drawing 1, at the end" in reader.pages[0].extract_text()


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
@pytest.mark.parametrize("size", ["a4", "a5"])
def test_a_shipped_drawing_is_black_on_white_and_its_letters_are_large_enough(path, size):
    reader = of_shipped(path, size)
    scale, smallest, moves = 1.0, [], []
    for operands, operator in operations(reader.pages[-1]):
        if operator in (b"g", b"G"):
            assert float(operands[0]) in (0.0, 1.0)
        assert operator not in (b"k", b"K", b"sc", b"SC", b"scn", b"SCN")
        if operator in (b"rg", b"RG"):
            assert {float(v) for v in operands} <= {0.0}
        if operator == b"q":
            moves.append(scale)
        elif operator == b"Q":
            scale = moves.pop()
        elif operator == b"cm":
            a, b = float(operands[0]), float(operands[1])
            scale *= (a * a + b * b) ** 0.5
        elif operator == b"Tf":
            smallest.append(float(operands[1]) * scale)
    # 8 pt is the note on the edge, 12 what the library writes before the first line
    drawn = [size_pt for size_pt in smallest if abs(size_pt - 8) > 0.01]
    assert min(drawn) >= LEAST_PT[size] - 0.01


def test_a_turned_drawing_stays_inside_the_leaf():
    for path in SHIPPED:
        reader = of_shipped(path, "a4")
        box = reader.pages[-1].mediabox
        for _, cm, tm in pieces(reader.pages[-1]):
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            assert 0 <= x <= float(box.width)
            assert 0 <= y <= float(box.height)


@pytest.mark.parametrize(
    ("shape", "steps"),
    [
        ('<path d="M10 10h20v5H10z"/>',
         [("M", 10, 10), ("L", 30, 10), ("L", 30, 15), ("L", 10, 15), ("Z",)]),
        ('<path d="M0,0 10,0 10,10"/>', [("M", 0, 0), ("L", 10, 0), ("L", 10, 10)]),
        ('<path d="M0 0C0 10 10 10 10 0S20-10 20 0"/>',
         [("M", 0, 0), ("C", 0, 10, 10, 10, 10, 0), ("C", 10, -10, 20, -10, 20, 0)]),
        ('<rect x="1" y="2" width="3" height="4"/>',
         [("M", 1, 2), ("L", 4, 2), ("L", 4, 6), ("L", 1, 6), ("Z",)]),
        ('<polyline points="0,0 5,5"/>', [("M", 0, 0), ("L", 5, 5)]),
    ],
)  # fmt: skip
def test_shapes_are_read_as_the_standard_says(shape, steps):
    """SVG 1.1, 8.3: relative steps, pairs after a move are lines, S mirrors the last handle."""
    ((kind, element, _, _),) = Picture(svg(shape)).shapes
    assert READERS[kind](element) == steps


def test_a_quadratic_curve_passes_where_it_should():
    """At the middle of Q the curve is a quarter, a half and a quarter of its three points."""
    ((kind, element, _, _),) = Picture(svg('<path d="M0 0Q10 20 20 0"/>')).shapes
    (_, x0, y0), (_, *c) = READERS[kind](element)
    middle = [(a + 3 * b + 3 * d + e) / 8 for a, b, d, e in [(x0, c[0], c[2], c[4]),
                                                           (y0, c[1], c[3], c[5])]]  # fmt: skip
    assert middle == pytest.approx([10, 10])


@pytest.mark.parametrize(
    "content",
    [
        svg('<path d="M0 0A5 5 0 0 1 10 10"/>'),
        svg("<image href='https://far.example/x.png'/>"),
        svg("<script>1</script>"),
        svg('<rect style="fill:red"/>'),
        svg('<path d="M0"/>'),
        b'<!DOCTYPE x [<!ENTITY a "b">]>' + svg("<text>&a;</text>"),
        b"<svg",
        b"\x89PNG",
        svg("<text>" + "x" * 400_000 + "</text>"),
        svg('<g transform="rotate(9)"/>'),
    ],
)
def test_what_is_not_known_is_not_half_drawn_and_its_words_stand_there(content):
    with pytest.raises(NotOurs):
        Picture(content)
    reader = handout("![The words](pictures/a.svg)", {"pictures/a.svg": content})
    assert len(reader.pages) == 1
    assert "(Drawing: The words)" in reader.pages[0].extract_text()


def test_a_drawing_keeps_its_proportions():
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(400, 300))
    Picture(svg('<line x1="0" y1="0" x2="200" y2="100"/>')).draw(canvas, 1.5, lambda *a, **k: "", 9)
    canvas.save()
    page = PdfReader(io.BytesIO(out.getvalue())).pages[0]
    scales = [[float(v) for v in o] for o, op in operations(page) if op == b"cm"]
    assert [1.5, 0, 0, -1.5, 0, 150] in scales  # y runs down on the screen and up on paper

"""Field cards and handouts on paper: black only, with a millimetre edge that can be checked.

A reader of 14 pt or 18 pt; A6, A5 or A4. What does not fit on one leaf goes on the next.
"""

import functools
import io
import re
from html import escape

import segno
from django.contrib.staticfiles import finders
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4, A5, A6
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Paragraph,
)

SIZES = {"a6": A6, "a5": A5, "a4": A4}
POINTS = (14, 18)
CHECK_MM = 50  # the printed length one lays a ruler on
EDGE_MM = 11  # left margin, with the millimetre edge in it
MARGIN_MM = 7
#: A number and its unit stay on one line.
TOGETHER = re.compile(r"(\d) (mm|m|s|stops|slices|frames|times)\b")
PLAIN, BOLD, SPARE = "Paper", "PaperBold", "PaperSpare"


def cards_pdf(cards, *, size, points):
    """Return the field cards as PDF bytes, each beginning on a leaf of its own."""
    story = []
    for card in cards:
        story += [*_card(card, points), PageBreak()]
    return _document(story[:-1], size, points, title=cards[0].title if cards else "Field card")


def handout_pdf(title, sections, card, *, size, points):
    """Return a lesson with its brief and one person's numbers; `sections` are plain blocks."""
    style = _styles(points)
    story = [Paragraph(_text(title), style["title"])]
    story += [
        Paragraph(_text(block.text), style.get(block.kind, style["paragraph"]))
        for block in sections
    ]
    story += _card(card, points)
    return _document(story, size, points, title=title)


def _card(card, points):
    style = _styles(points)
    story = [
        Paragraph(_text(card.title), style["title"]),
        Paragraph(_text(card.person), style["paragraph"]),
        Paragraph(_text(card.made), style["paragraph"]),
    ]
    for block in card.blocks:
        rows = [Paragraph(_text(line), style["line"]) for line in block.lines]
        head = Paragraph(_text(block.title), style["heading"])
        story += [KeepTogether([head, *rows[:1]]), *rows[1:]]
    return [
        *story,
        KeepTogether([Square(card.address), Paragraph(_text(card.footer), style["line"])]),
    ]


class Square(Flowable):
    """The square code that leads back to the exercise, in quiet black."""

    SIDE = 26 * mm

    def __init__(self, address):
        super().__init__()
        self.code = segno.make(address, error="m", micro=False)
        self.width = self.height = self.SIDE
        self.spaceBefore = self.spaceAfter = 2 * mm

    def draw(self):
        rows = [list(row) for row in self.code.matrix_iter(border=4)]
        cell = self.SIDE / len(rows)
        for down, row in enumerate(rows):
            for across, dark in enumerate(row):
                if dark:
                    self.canv.rect(
                        across * cell, self.SIDE - (down + 1) * cell, cell, cell, stroke=0, fill=1
                    )


def _document(story, size, points, title):
    out = io.BytesIO()
    width, height = SIZES[size]
    document = BaseDocTemplate(
        out,
        pagesize=(width, height),
        title=title,
        author="Working Distance",
        leftMargin=EDGE_MM * mm,
        rightMargin=MARGIN_MM * mm,
        topMargin=MARGIN_MM * mm,
        bottomMargin=MARGIN_MM * mm,
    )
    frame = Frame(
        EDGE_MM * mm,
        MARGIN_MM * mm,
        width - (EDGE_MM + MARGIN_MM) * mm,
        height - 2 * MARGIN_MM * mm,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    document.addPageTemplates(PageTemplate(frames=[frame], onPage=_edge))
    _fonts()
    document.build(story or [Paragraph("Nothing is asked this week.", _styles(points)["line"])])
    return out.getvalue()


def _edge(canvas, document):
    """Millimetre ticks along the left edge, and the length that says they are true."""
    height = document.pagesize[1]
    bottom = 10 * mm
    canvas.setStrokeGray(0)
    canvas.setFillGray(0)
    for k in range(int((height - 2 * bottom) / mm) + 1):
        long = 4 if k % 10 == 0 else 3 if k % 5 == 0 else 1.8
        canvas.setLineWidth(0.5 if k % 10 == 0 else 0.3)
        canvas.line(0, bottom + k * mm, long * mm, bottom + k * mm)
    canvas.setLineWidth(1)
    canvas.line(5.5 * mm, bottom, 5.5 * mm, bottom + CHECK_MM * mm)
    for end in (0, CHECK_MM):
        canvas.line(4.5 * mm, bottom + end * mm, 6.5 * mm, bottom + end * mm)
    canvas.saveState()
    canvas.setFont(PLAIN, 8)
    canvas.translate(9.2 * mm, bottom)
    canvas.rotate(90)
    canvas.drawString(0, 0, f"{CHECK_MM} mm: print at 100 %, lay a ruler here")
    canvas.restoreState()


@functools.cache
def _fonts():
    """The house's type for paper; a second one for the few signs it lacks."""
    for name, weight in [(PLAIN, 400), (BOLD, 700)]:
        path = finders.find(f"vendor/atkinson/atkinson-hyperlegible-next-{weight}.ttf")
        pdfmetrics.registerFont(TTFont(name, path))
    pdfmetrics.registerFont(TTFont(SPARE, "Vera.ttf"))  # comes with reportlab


@functools.cache
def _known(name):
    _fonts()
    return frozenset(pdfmetrics.getFont(name).face.charToGlyph)


def _text(words):
    """Escape a line, with signs the type lacks set in the other; a sign neither has is a ?."""
    return "".join(_sign(sign) for sign in TOGETHER.sub("\\1\u00a0\\2", words))


def _sign(sign):
    if ord(sign) in _known(PLAIN) or sign.isspace():
        return escape(sign)
    if ord(sign) in _known(SPARE):
        return f'<font name="{SPARE}">{escape(sign)}</font>'
    return "?"


@functools.cache
def _styles(points):
    _fonts()
    line = ParagraphStyle(
        "line", fontName=PLAIN, fontSize=points, leading=points * 1.28, alignment=TA_LEFT
    )
    big = points * 1.2
    return {
        "line": line,
        "item": ParagraphStyle("item", line, leftIndent=points * 0.6, spaceAfter=points * 0.2),
        "row": line,
        "paragraph": ParagraphStyle("paragraph", line, spaceAfter=points * 0.35),
        "heading": ParagraphStyle(
            "heading", line, fontName=BOLD, spaceBefore=points * 0.5, spaceAfter=points * 0.1
        ),
        "title": ParagraphStyle(
            "title", line, fontName=BOLD, fontSize=big, leading=big * 1.15, spaceAfter=points * 0.2
        ),
    }

"""Field cards and handouts on paper: black only, with a millimetre edge that can be checked.

A reader of 14 pt or 18 pt; A6, A5 or A4. What does not fit on one leaf goes on the next, and then
every leaf says which of how many it is and whose. Drawings stand on leaves of their own, turned
where that makes their words larger.
"""

import functools
import io

import segno
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4, A5, A6
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Paragraph,
)

from course.drawing import NotOurs, Picture
from course.leaves import Begins, NumberedCanvas
from course.paper_type import BOLD, PLAIN, SPARE, fonts, known, text

SIZES = {"a6": A6, "a5": A5, "a4": A4}
POINTS = (14, 18)
CHECK_MM = 50  # the printed length one lays a ruler on
EDGE_MM = 11  # left margin, with the millimetre edge in it
MARGIN_MM = 7
#: The smallest letters of a drawing, by paper: clear print asks for 12 pt, A5 has no room for it.
LEAST_PT = {"a6": 9, "a5": 10, "a4": 12}


def cards_pdf(cards, *, size, points):
    """Return the field cards as PDF bytes, each beginning on a leaf of its own."""
    story = []
    for card in cards:
        story += [Begins(_whose(card)), *_card(card, points), PageBreak()]
    return _document(story[:-1], size, points, title=cards[0].title if cards else "Field card")


def handout_pdf(title, sections, card, *, size, points, pictures=None):
    """Return a lesson with its brief and one person's numbers; `sections` are plain blocks.

    `pictures` are the course's drawings by name; those that cannot be drawn stand as words.
    """
    style = _styles(points)
    drawn = []
    story = [Begins(_whose(card)), Paragraph(text(title), style["title"])]
    for block in sections:
        words = block.text
        if picture := _picture(block, pictures or {}):
            drawn.append(picture)
            said = block.text.removeprefix("(Drawing: ").removesuffix(")")
            words = f"Drawing {len(drawn)}, at the end: {said}"
            drawn[-1] = (picture, words.replace(", at the end", ""))
        story.append(Paragraph(text(words), style.get(block.kind, style["paragraph"])))
    story += _card(card, points)
    for picture, words in drawn:
        story += [PageBreak(), Drawn(picture, words, size, points)]
    return _document(story, size, points, title=title)


def _picture(block, pictures):
    content = pictures.get(block.picture)
    if not content or not block.picture.endswith(".svg"):
        return None
    try:
        return Picture(content)
    except NotOurs:
        return None


def _whose(card):
    return card.person.partition(" · ")[0]


class Drawn(Flowable):
    """A drawing on a leaf of its own with its words, turned where that makes it larger."""

    def __init__(self, picture, words, size, points):
        super().__init__()
        self.picture, self.least_pt, self.points = picture, LEAST_PT[size], points
        self.words = text(words)

    def wrap(self, wide, high):
        upright, turned = self._scale(wide, high), self._scale(high, wide)
        self.turned = turned > upright
        self.scale = max(upright, turned)
        self.width, self.height = wide, high - 1
        return self.width, self.height

    def _scale(self, wide, high):
        said = Paragraph(self.words, _styles(self.points)["line"]).wrap(wide, high)[1]
        room = high - said - self.points
        return min(wide / self.picture.width, room / self.picture.height)

    def draw(self):
        wide, high = self.width, self.height
        self.canv.saveState()
        if self.turned:
            self.canv.translate(wide, 0)
            self.canv.rotate(90)
            wide, high = high, wide
        said = Paragraph(self.words, _styles(self.points)["line"])
        said_high = said.wrap(wide, high)[1]
        said.drawOn(self.canv, 0, high - said_high)
        self.canv.translate(0, high - said_high - self.points - self.picture.height * self.scale)
        self.picture.draw(self.canv, self.scale, _font_for, self.least_pt)
        self.canv.restoreState()


def _font_for(words, *, bold):
    """The house's type where it has every sign, else the spare one."""
    name = BOLD if bold else PLAIN
    return name if all(ord(sign) in known(name) or sign.isspace() for sign in words) else SPARE


def _card(card, points):
    style = _styles(points)
    story = [
        Paragraph(text(card.title), style["title"]),
        Paragraph(text(card.person), style["paragraph"]),
        Paragraph(text(card.made), style["paragraph"]),
    ]
    for block in card.blocks:
        rows = [Paragraph(text(line), style["line"]) for line in block.lines]
        head = Paragraph(text(block.title), style["heading"])
        story += [KeepTogether([head, *rows[:1]]), *rows[1:]]
    return [
        *story,
        KeepTogether([Square(card.address), Paragraph(text(card.footer), style["line"])]),
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
    foot = MARGIN_MM * mm + points * 1.28  # the line that numbers the leaves
    document = BaseDocTemplate(
        out,
        pagesize=(width, height),
        title=title,
        author="Working Distance",
        leftMargin=EDGE_MM * mm,
        rightMargin=MARGIN_MM * mm,
        topMargin=MARGIN_MM * mm,
        bottomMargin=foot,
    )
    frame = Frame(
        EDGE_MM * mm,
        foot,
        width - (EDGE_MM + MARGIN_MM) * mm,
        height - MARGIN_MM * mm - foot,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    document.addPageTemplates(PageTemplate(frames=[frame], onPage=_edge))
    fonts()
    document.build(
        story or [Paragraph("Nothing is asked this week.", _styles(points)["line"])],
        canvasmaker=functools.partial(
            NumberedCanvas, numbered=functools.partial(_number, points=points)
        ),
    )
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


def _number(canvas, whose, leaf, of, *, points):
    """Which of how many leaves, and whose; a single leaf needs neither."""
    if of == 1:
        return
    words = f"Leaf {leaf} of {of} · {whose}"
    room = canvas._pagesize[0] - (EDGE_MM + MARGIN_MM) * mm
    while pdfmetrics.stringWidth(words, PLAIN, points) > room:
        words = words[:-2] + "…"
    canvas.setFillGray(0)
    canvas.setFont(_font_for(words, bold=False), points)
    canvas.drawString(EDGE_MM * mm, MARGIN_MM * mm, words)


@functools.cache
def _styles(points):
    fonts()
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

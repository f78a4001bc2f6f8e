"""Sheets of pictures on A4: the contact sheet of a whole shoot, and the sheets of a print evening.

Each picture has its number; words stand under it in black. The pages of the same name say the
same in HTML, for those who cannot see them and for those who have no printer.
"""

import io
from dataclasses import dataclass

from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from course.paper_type import BOLD, PLAIN, fonts, text

MARGIN = 12 * mm
GAP = 5 * mm
HEAD = 16 * mm
ROOM_TO_WRITE = 26 * mm
#: drawn beside the words, as on the page: a mark is never its shape alone
SHAPES = {"keep": "circle", "maybe": "triangle", "no": "cross"}


@dataclass(frozen=True)
class Cell:
    """One picture with its number and the lines under it; no picture is an empty sheet."""

    number: int
    picture: bytes | None
    lines: tuple[str, ...]
    mark: str = ""


def contact_sheet_pdf(title, under_title, cells):
    """Twenty to a leaf, in the order given."""
    return _sheet(title, under_title, cells, columns=4, rows=5, points=7.5, writing=0)


def evening_pdf(title, under_title, cells, key):
    """Two large prints to a leaf with room to write; `key` says on the last leaf whose is whose."""
    out = io.BytesIO()
    sheet = _Sheet(out, title, under_title, columns=1, rows=2, points=12, writing=ROOM_TO_WRITE)
    sheet.lay(cells)
    if key:
        sheet.key(key)
    return sheet.done()


def _sheet(title, under_title, cells, **form):
    out = io.BytesIO()
    sheet = _Sheet(out, title, under_title, **form)
    sheet.lay(cells)
    return sheet.done()


class _Sheet:
    def __init__(self, out, title, under_title, *, columns, rows, points, writing):
        fonts()
        self.out, self.title, self.under_title = out, title, under_title
        self.columns, self.rows, self.points, self.writing = columns, rows, points, writing
        self.pen = Canvas(out, pagesize=A4, lang="en")
        self.pen.setTitle(title)
        self.pen.setAuthor("Working Distance")
        self.leaf = 0

    def lay(self, cells):
        width, height = A4
        across = (width - 2 * MARGIN - (self.columns - 1) * GAP) / self.columns
        down = (height - 2 * MARGIN - HEAD - (self.rows - 1) * GAP) / self.rows
        on_a_leaf = self.columns * self.rows
        for k, cell in enumerate(cells):
            if k % on_a_leaf == 0:
                self.begin()
            row, column = divmod(k % on_a_leaf, self.columns)
            left = MARGIN + column * (across + GAP)
            top = height - MARGIN - HEAD - row * (down + GAP)
            self.cell(cell, left, top, across, down)
        if not cells:
            self.begin()

    def begin(self):
        if self.leaf:
            self.pen.showPage()
        self.leaf += 1
        width, height = A4
        self.pen.setFillGray(0)
        self.line(self.title, MARGIN, height - MARGIN - 5 * mm, BOLD, 13)
        self.line(self.under_title, MARGIN, height - MARGIN - 10.5 * mm, PLAIN, 9)
        self.pen.setFont(PLAIN, 9)
        self.pen.drawRightString(width - MARGIN, height - MARGIN - 5 * mm, f"Leaf {self.leaf}")

    def line(self, words, left, bottom, font, points, room=None):
        """One line of words; too long a one is set smaller, never cut."""
        room = room or A4[0] - 2 * MARGIN - 22 * mm
        style = ParagraphStyle("line", fontName=font, fontSize=points, leading=points * 1.2)
        long = pdfmetrics.stringWidth(words, font, points)
        if long > room:
            style.fontSize = max(5, points * room / long)
        paragraph = Paragraph(text(words), style)
        paragraph.wrap(room + 1, 100)
        paragraph.drawOn(self.pen, left, bottom - 1)

    def cell(self, cell, left, top, across, down):
        words = self.words(cell, across)
        high = sum(paragraph.wrap(across, down)[1] for paragraph in words)
        room = down - high - self.writing - 1.5 * mm
        bottom = top - room
        drawn_to = self.picture(cell, left, bottom, across, room)
        under = drawn_to - 1.5 * mm
        for paragraph in words:
            under -= paragraph.height
            paragraph.drawOn(self.pen, left, under)
        if self.writing:
            self.pen.setLineWidth(0.4)
            for k in (1, 2, 3):
                level = under - k * 8 * mm
                self.pen.line(left, level, left + across, level)

    def words(self, cell, across):
        plain = ParagraphStyle(
            "plain", fontName=PLAIN, fontSize=self.points, leading=self.points * 1.25
        )
        strong = ParagraphStyle("strong", plain, fontName=BOLD)
        first, *rest = cell.lines or ("",)
        head = (
            f"{cell.number}{f' · {cell.mark}' if cell.mark else ''}{f' · {first}' if first else ''}"
        )
        return [Paragraph(text(head), strong), *(Paragraph(text(words), plain) for words in rest)]

    def picture(self, cell, left, bottom, across, room):
        """Draw the picture as large as fits, from the top; return its lower edge."""
        if cell.picture is None:
            self.pen.setLineWidth(0.4)
            self.pen.rect(left, bottom, across, room)
            return bottom
        image = ImageReader(io.BytesIO(cell.picture))  # a JPEG goes in as it is
        w, h = image.getSize()
        scale = min(across / w, room / h)
        lower = bottom + room - h * scale
        self.pen.drawImage(image, left, lower, w * scale, h * scale)
        if cell.mark in SHAPES:
            self.shape(SHAPES[cell.mark], left + 4 * mm, bottom + room - 4 * mm)
        return lower

    def shape(self, kind, x, y):
        """The maker's own mark, white with a dark edge, so that it shows on any picture."""
        r = 2 * mm
        for grey, wide in ((0, 2.4), (1, 1.2)):
            self.pen.setStrokeGray(grey)
            self.pen.setLineWidth(wide)
            if kind == "circle":
                self.pen.circle(x, y, r, stroke=1, fill=0)
            elif kind == "triangle":
                path = self.pen.beginPath()
                path.moveTo(x - r, y - r)
                path.lineTo(x + r, y - r)
                path.lineTo(x, y + r)
                path.close()
                self.pen.drawPath(path)
            else:
                self.pen.line(x - r, y - r, x + r, y + r)
                self.pen.line(x - r, y + r, x + r, y - r)
        self.pen.setStrokeGray(0)

    def key(self, lines):
        """Whose is whose: a leaf of its own, for whoever leads the evening."""
        self.begin()
        level = A4[1] - MARGIN - HEAD - 4 * mm
        for words in ["Whose is whose: keep this leaf to yourself.", *lines]:
            if level < MARGIN + 6 * mm:
                self.begin()
                level = A4[1] - MARGIN - HEAD - 4 * mm
            self.line(words, MARGIN, level, PLAIN, 12, room=A4[0] - 2 * MARGIN)
            level -= 7.5 * mm

    def done(self):
        self.pen.save()
        return self.out.getvalue()

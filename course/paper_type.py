"""The house's type on paper, and words made ready for it. For reportlab."""

import functools
import re
from html import escape

from django.contrib.staticfiles import finders
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN, BOLD, SPARE = "Paper", "PaperBold", "PaperSpare"
#: A number and its unit stay on one line.
TOGETHER = re.compile(r"(\d) (mm|m|s|stops|slices|frames|times)\b")


@functools.cache
def fonts():
    """The house's type for paper; a second one for the few signs it lacks."""
    for name, weight in [(PLAIN, 400), (BOLD, 700)]:
        path = finders.find(f"vendor/atkinson/atkinson-hyperlegible-next-{weight}.ttf")
        pdfmetrics.registerFont(TTFont(name, path))
    pdfmetrics.registerFont(TTFont(SPARE, "Vera.ttf"))  # comes with reportlab


@functools.cache
def known(name):
    fonts()
    return frozenset(pdfmetrics.getFont(name).face.charToGlyph)


def text(words):
    """Escape a line, with signs the type lacks set in the other; a sign neither has is a ?."""
    return "".join(_sign(sign) for sign in TOGETHER.sub("\\1\u00a0\\2", words))


def _sign(sign):
    if ord(sign) in known(PLAIN) or sign.isspace():
        return escape(sign)
    if ord(sign) in known(SPARE):
        return f'<font name="{SPARE}">{escape(sign)}</font>'
    return "?"

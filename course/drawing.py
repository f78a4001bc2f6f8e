"""A course's own drawings as vectors on paper: black on white, letters large enough to read.

The reader knows the part of SVG that our drawings use (W3C SVG 1.1, chapters 8 to 10, without
arcs, gradients and style sheets). A drawing with anything else is not half drawn: its words stand
in its place, as they do for photographs.
"""

import re
from functools import cached_property
from xml.etree import ElementTree

NAMESPACE = "{http://www.w3.org/2000/svg}"
SILENT = {"title", "desc", "metadata"}
#: What a shape takes from the groups around it.
INHERITED = (
    *("fill", "stroke", "stroke-width", "stroke-dasharray", "fill-opacity"),
    *("font-size", "font-weight", "text-anchor"),
)
NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
STEPS = re.compile(r"([MmLlHhVvCcSsQqZz])([^A-Za-z]*)")
HAIR_PT = 0.35  # a pale line of the screen, such as a grid's
THINNEST_PT = 0.6
PALE = 0.6  # lighter than this is paper
LARGEST_BYTES = 300_000


class NotOurs(ValueError):
    """The drawing uses what this reader does not know; `str` says what."""


class Picture:
    """One SVG, read; `draw` puts it on a canvas of reportlab's."""

    def __init__(self, content):
        if len(content) > LARGEST_BYTES or re.search(rb"<!(DOCTYPE|ENTITY)", content):
            raise NotOurs("its size or its document type")
        try:
            self.root = ElementTree.fromstring(content)  # noqa: S314 - no entities, see above
            left, top, self.width, self.height = _numbers(self.root.get("viewBox", ""))
        except (ElementTree.ParseError, ValueError) as trouble:
            raise NotOurs(str(trouble)) from None
        if (left, top) != (0, 0) or self.width <= 0 or self.height <= 0:
            raise NotOurs("its viewBox")
        self.shapes = list(_shapes(self.root, {}, []))

    @cached_property
    def smallest_letters(self):
        """The size of its smallest words, in its own units."""
        sizes = [_size(style) for kind, _, style, _ in self.shapes if kind == "text"]
        return min(sizes, default=self.height)

    def draw(self, canvas, scale, fonts, least_pt):
        """Draw with the lower left corner at the canvas's origin, `scale` points to a unit."""
        pen = _Pen(canvas, scale, fonts, least_pt)
        canvas.saveState()
        canvas.translate(0, self.height * scale)
        canvas.scale(scale, -scale)
        canvas.setStrokeGray(0)
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        for kind, element, style, moves in self.shapes:
            canvas.saveState()
            for move in moves:
                canvas.transform(*move)
            pen.put(kind, element, style, _scale_of(moves))
            canvas.restoreState()
        canvas.restoreState()


def _shapes(element, around, moves):
    """Yield every shape with what it inherits and the moves of the groups around it."""
    kind = element.tag.removeprefix(NAMESPACE)
    if kind in SILENT:
        return
    if element.get("style") or element.get("class"):
        raise NotOurs("a style sheet")
    style = around | {key: element.get(key) for key in INHERITED if element.get(key)}
    moves = moves + _moves(element.get("transform", ""))
    if kind in ("svg", "g"):
        for child in element:
            yield from _shapes(child, style, moves)
        return
    if kind not in READERS and kind != "text":
        raise NotOurs(kind)
    if kind != "text":
        READERS[kind](element)  # what cannot be read is known before anything is drawn
    yield kind, element, style, moves


def _moves(text):
    found = []
    for name, inside in re.findall(r"(\w+)\s*\(([^)]*)\)", text):
        values = _numbers(inside)
        if name == "translate":
            found.append((1, 0, 0, 1, values[0], values[1] if len(values) > 1 else 0))
        elif name == "scale":
            found.append((values[0], 0, 0, values[-1], 0, 0))
        else:
            raise NotOurs(name)
    return found


def _scale_of(moves):
    scale = 1.0
    for move in moves:
        scale *= abs(move[0])
    return scale


# --- shapes as steps: ("M", x, y), ("L", x, y), ("C", x1, y1, x2, y2, x, y), ("Z",) ---


def _line(e):
    x1, y1, x2, y2 = _at(e, "x1", "y1", "x2", "y2")
    return [("M", x1, y1), ("L", x2, y2)]


def _rect(e):
    x, y, wide, high = _at(e, "x", "y", "width", "height")
    corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
    return _joined(corners, closed=True)


def _polyline(e):
    return _joined(_pairs(e.get("points", "")), closed=False)


def _polygon(e):
    return _joined(_pairs(e.get("points", "")), closed=True)


def _joined(points, *, closed):
    steps = [("L" if k else "M", x, y) for k, (x, y) in enumerate(points)]
    return [*steps, ("Z",)] if closed else steps


def _circle(e):
    x, y, r = _at(e, "cx", "cy", "r")
    return _round(x, y, r, r)


def _ellipse(e):
    return _round(*_at(e, "cx", "cy", "rx", "ry"))


def _round(x, y, rx, ry):
    k = 0.5522847498  # four Bezier quarters; off by less than 0.03 % of the radius
    return [
        ("M", x + rx, y),
        ("C", x + rx, y + k * ry, x + k * rx, y + ry, x, y + ry),
        ("C", x - k * rx, y + ry, x - rx, y + k * ry, x - rx, y),
        ("C", x - rx, y - k * ry, x - k * rx, y - ry, x, y - ry),
        ("C", x + k * rx, y - ry, x + rx, y - k * ry, x + rx, y),
        ("Z",),
    ]


def _path(e):
    text = e.get("d", "")
    if re.search(r"[^MmLlHhVvCcSsQqZz0-9eE.,\s+-]", text):
        raise NotOurs("a path with arcs")
    steps, x, y, start = [], 0.0, 0.0, (0.0, 0.0)
    for name, inside in STEPS.findall(text):
        kind, values = name.upper(), _numbers(inside)
        if kind == "Z":
            steps.append(("Z",))
            x, y = start
            continue
        many = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4}[kind]
        if not values or len(values) % many:
            raise NotOurs("a path that breaks off")
        for at in range(0, len(values), many):
            last = steps[-1] if steps and steps[-1][0] == "C" else None
            given = values[at : at + many]
            x, y, step = _one_step(kind, given, x, y, last, relative=name.islower())
            steps.append(step)
            if kind == "M":
                start, kind = (x, y), "L"  # further pairs after a move are lines
    return steps


def _one_step(kind, values, x, y, last, *, relative):
    if kind == "H":
        values = [values[0], 0.0 if relative else y]
    elif kind == "V":
        values = [0.0 if relative else x, values[0]]
    if relative:
        values = [v + (y if k % 2 else x) for k, v in enumerate(values)]
    if kind == "S":  # goes on as smoothly as the curve before it came in
        first = [2 * x - last[3], 2 * y - last[4]] if last else [x, y]
        return values[-2], values[-1], ("C", *first, *values)
    if kind == "Q":  # a quadratic curve is a cubic one with its handle two thirds along
        cx, cy, ex, ey = values
        handles = [x + 2 / 3 * (cx - x), y + 2 / 3 * (cy - y)]
        handles += [ex + 2 / 3 * (cx - ex), ey + 2 / 3 * (cy - ey)]
        return ex, ey, ("C", *handles, ex, ey)
    return values[-2], values[-1], ("L" if kind in "HV" else kind, *values)


READERS = {
    "line": _line,
    "rect": _rect,
    "polyline": _polyline,
    "polygon": _polygon,
    "circle": _circle,
    "ellipse": _ellipse,
    "path": _path,
}


class _Pen:
    """Puts one shape on the canvas in black."""

    def __init__(self, canvas, scale, fonts, least_pt):
        self.canvas, self.scale, self.fonts, self.least_pt = canvas, scale, fonts, least_pt

    def put(self, kind, element, style, own_scale):
        if kind == "text":
            self._write(element, style, own_scale)
            return
        to_pt = self.scale * own_scale
        stroke, fill = style.get("stroke", "none"), style.get("fill", "#000000")
        see_through = float(style.get("fill-opacity", 1)) < PALE
        strokes, fills = stroke != "none", fill != "none" and not see_through
        width = float(style.get("stroke-width", 1))
        thinnest = HAIR_PT if _is_pale(stroke) else THINNEST_PT
        self.canvas.setLineWidth(
            thinnest / to_pt if _is_pale(stroke) else max(width, thinnest / to_pt)
        )
        if dashes := _numbers(style.get("stroke-dasharray", "")):
            self.canvas.setDash(dashes)
        self.canvas.setFillGray(1 if _is_pale(fill) else 0)
        path = self.canvas.beginPath()
        for name, *values in READERS[kind](element):
            {"M": path.moveTo, "L": path.lineTo, "C": path.curveTo, "Z": path.close}[name](*values)
        if see_through and fill != "none" and not strokes:
            strokes = True  # a pale wash becomes its outline
        if strokes or fills:
            self.canvas.drawPath(path, stroke=int(strokes), fill=int(fills))

    def _write(self, element, style, own_scale):
        words = " ".join("".join(element.itertext()).split())
        size = max(_size(style), self.least_pt / (self.scale * own_scale))
        font = self.fonts(words, bold=style.get("font-weight") in ("700", "bold"))
        x, y = _at(element, "x", "y")
        self.canvas.translate(x, y)
        self.canvas.scale(1, -1)
        self.canvas.setFillGray(0)
        self.canvas.setFont(font, size)
        put = {"middle": self.canvas.drawCentredString, "end": self.canvas.drawRightString}
        put.get(style.get("text-anchor", "start"), self.canvas.drawString)(0, 0, words)


def _size(style):
    return float(style.get("font-size", 16))


def _is_pale(colour):
    """Whether a colour of the screen is paper here."""
    if re.fullmatch(r"#[0-9a-fA-F]{3}", colour):
        colour = "#" + "".join(2 * digit for digit in colour[1:])
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", colour):
        return colour == "white"
    red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue > PALE


def _numbers(text):
    return [float(number) for number in NUMBER.findall(text)]


def _pairs(text):
    values = _numbers(text)
    return list(zip(values[::2], values[1::2], strict=True))


def _at(element, *names):
    return [float(element.get(name, 0)) for name in names]

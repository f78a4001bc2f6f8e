"""A formula as docstrings write it, as MathML a browser draws and a reader speaks.

What stands side by side is multiplied; `/` takes everything before it over
the one factor after it; a name with no blank before its bracket is a
function; `_` lowers, `^` raises; plain words stay words.
"""

import re
from html import escape

TOKEN = re.compile(
    r"\s*(?:(?P<dots>\.\.\.)|(?P<number>\d+(?:\.\d+)?)"
    r"|(?P<name>[A-Za-z]+(?:-[a-z]+)?(?:\d+(?:\.\d+)?)?(?:_\w+)?'*)(?P<call>\()?"
    r"|(?P<mark>[-+=/^|(),]))"
)
GREEK = {"lambda": "\u03bb", "pi": "\u03c0", "nu": "\u03bd"}
FUNCTIONS = {"sin", "cos", "acos", "tan", "ln", "log", "log2", "max", "sqrt", "ceil"}
CHANGES = {"dz": "\u0394z", "dx": "\u0394x", "dm": "\u0394m", "dD": "\u0394D"}
OPENED, CLOSED = "<mrow><mo>(</mo>", "<mo>)</mo></mrow>"
GAP = '<mspace width="0.17em"/>'
TIMES = "<mo>&#8290;</mo>"


def equations(formula: str) -> list[str]:
    """Split at the commas that begin another equation; what is said after 'where' stands alone."""
    formula, _, where = " ".join(formula.split()).partition(", where ")
    lines: list[str] = []
    for part in outside_brackets(formula):
        if not lines or ("=" in part and "=" in lines[-1]):
            lines.append(part)
        else:
            lines[-1] += ", " + part
    return lines + ([f"where {where}"] if where else [])


def outside_brackets(text: str) -> list[str]:
    """Split at commas that no bracket holds."""
    parts, depth, begin = [], 0, 0
    for k, letter in enumerate(text):
        depth += (letter == "(") - (letter == ")")
        if letter == "," and not depth:
            parts.append(text[begin:k].strip())
            begin = k + 1
    return [*parts, text[begin:].strip()]


def as_mathml(equation: str) -> str:
    """One equation as a `<math>` element; ValueError names what cannot be read."""
    if equation.startswith("where "):
        return f"<p>{escape(equation)}</p>"
    reader = Reader(equation)
    inside = reader.equation()
    return f'<math display="block" alttext="{escape(equation)}">{inside}</math>'


class Reader:
    """Reads one equation from left to right."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens: list[tuple[str, str]] = []
        at = 0
        while at < len(text.rstrip()):
            found = TOKEN.match(text, at)
            if not found:
                raise ValueError(f"cannot read {text[at:]!r} in {text!r}")
            kind = str(found.lastgroup)
            if found["call"]:
                self.tokens += [("call", found["name"]), ("mark", "(")]
            else:
                self.tokens.append((kind, found[kind]))
            at = found.end()
        self.at = 0
        self.bars = 0

    @property
    def next(self) -> tuple[str, str]:
        return self.tokens[self.at] if self.at < len(self.tokens) else ("end", "")

    def take(self, wanted: str = "") -> tuple[str, str]:
        kind, text = self.next
        if wanted and text != wanted:
            raise ValueError(f"expected {wanted!r}, found {text!r} in {self.text!r}")
        self.at += 1
        return kind, text

    def equation(self) -> str:
        parts = [self.sum()]
        while self.next[1] in ("=", ","):
            parts += [f"<mo>{self.take()[1]}</mo>", self.sum()]
        if self.next[0] != "end":
            raise ValueError(f"cannot read on at {self.next[1]!r} in {self.text!r}")
        return "".join(parts)

    def sum(self) -> str:
        parts = []
        if self.next[1] == "-":
            self.take()
            parts.append("<mo>\u2212</mo>")
        parts.append(self.product())
        while self.next[1] in ("+", "-"):
            sign = self.take()[1].replace("-", "\u2212")
            parts += [f"<mo>{sign}</mo>", self.product()]
        return "".join(parts)

    def product(self) -> str:
        factors = [self.power()]
        while True:
            if self.next[1] == "/":
                self.take()
                above = row(
                    factors[0][len(OPENED) : -len(CLOSED)] if idle(factors) else TIMES.join(factors)
                )
                below = row(self.power(bare=True))
                factors = [f"<mfrac>{above}{below}</mfrac>"]
            elif self.begins():
                factors.append(self.power())
            else:
                return TIMES.join(factors)

    def begins(self) -> bool:
        """Whether another factor begins here; a second bar ends what the first began."""
        kind, text = self.next
        return kind in ("number", "name", "call") or text == "(" or (text == "|" and not self.bars)

    def power(self, *, bare: bool = False) -> str:
        base = self.factor(bare=bare)
        if self.next[1] != "^":
            return base
        self.take()
        sign = ""
        if self.next[1] == "-":
            self.take()
            sign = "<mo>\u2212</mo>"
        return f"<msup>{row(base)}{row(sign + self.factor(bare=True))}</msup>"

    def factor(self, *, bare: bool = False) -> str:
        """One thing; `bare` leaves the brackets off that a fraction line or a raise makes idle."""
        kind, text = self.take()
        if kind == "number":
            return f"<mn>{text}</mn>"
        if kind == "dots":
            return "<mo>\u2026</mo>"
        if kind == "call":
            return self.called(text)
        if text == "(":
            inside = self.inside(")")
            # A raised bracket needs its bracket: only what is not raised may lose it.
            if bare and self.next[1] != "^":
                return f"<mrow>{inside}</mrow>"
            return OPENED + inside + CLOSED
        if text == "|":
            self.bars += 1
            inside = self.inside("|")
            self.bars -= 1
            return f"<mrow><mo>|</mo>{inside}<mo>|</mo></mrow>"
        if kind != "name":
            raise ValueError(f"cannot read {text!r} in {self.text!r}")
        if text == "integral":
            return self.integral()
        if text in FUNCTIONS:
            return f"<mrow>{function(text)}<mo>&#8289;</mo>{GAP}{self.power()}</mrow>"
        return self.words(text) if is_word(text) else symbol(text)

    def inside(self, end: str) -> str:
        parts = [self.sum()]
        while self.next[1] == ",":
            self.take()
            parts += ["<mo>,</mo>", self.sum()]
        self.take(end)
        return "".join(parts)

    def called(self, name: str) -> str:
        self.take("(")
        inside = self.inside(")")
        if name == "sqrt":
            return f"<msqrt>{inside}</msqrt>"
        if name == "ceil":
            return f"<mrow><mo>\u2308</mo>{inside}<mo>\u2309</mo></mrow>"
        called = function(name) if name in FUNCTIONS else symbol(name)
        return f"<mrow>{called}<mo>&#8289;</mo><mo>(</mo>{inside}<mo>)</mo></mrow>"

    def integral(self) -> str:
        self.take("from")
        low = self.power()
        self.take("to")
        high = self.power()
        self.take("of")
        return f"<msubsup><mo>\u222b</mo>{row(low)}{row(high)}</msubsup>"

    def words(self, first: str) -> str:
        """Words in a row are one thing: 'sensor width', 'rate of turning'."""
        said = [first]
        while self.next[0] == "name" and is_word(self.next[1]):
            said.append(self.take()[1])
        return f"<mtext>{' '.join(said)}</mtext>"


def idle(factors: list[str]) -> bool:
    """Whether what stands over a fraction line is one bracket, which the line makes needless."""
    return len(factors) == 1 and factors[0].startswith(OPENED) and factors[0].endswith(CLOSED)


def is_word(name: str) -> bool:
    """Letters that are no symbol, no function and no part of an integral."""
    known = name in GREEK or name in FUNCTIONS or name in CHANGES or name == "dt"
    return bool(re.fullmatch(r"[a-z][a-z-]+", name)) and not known


def function(name: str) -> str:
    """A function's name; log2 with its base below."""
    return "<msub><mi>log</mi><mn>2</mn></msub>" if name == "log2" else f"<mi>{name}</mi>"


def symbol(name: str) -> str:
    """A letter with what hangs on it: m0, N_e', f_inf."""
    found = re.fullmatch(r"([A-Za-z]+?)(\d+(?:\.\d+)?)?(?:_(\w+?))?('*)", name)
    if not found:
        raise ValueError(f"cannot read the symbol {name!r}")
    letter, digits, lower, primes = found.groups()
    if digits and len(letter) > 1:
        letter, digits = letter + digits, None
    drawn = f"<mi>{GREEK.get(letter, CHANGES.get(letter, letter))}</mi>"
    below = digits or lower
    if below:
        tag = "mn" if below[0].isdigit() else "mi"
        drawn = f"<msub>{drawn}<{tag}>{below.replace('inf', chr(0x221E))}</{tag}></msub>"
    for _ in primes:
        drawn = f"<msup>{drawn}<mo>\u2032</mo></msup>"
    return drawn


def row(inside: str) -> str:
    """Several things as one."""
    return f"<mrow>{inside}</mrow>"

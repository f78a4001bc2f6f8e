"""Words explained: one a line, "term, another form: what it means". Pure.

In a text the first use of each word in a page opens its meaning. The meaning stands at the end of
the page and comes up where one reads by the address alone (`#word-...`), so that no script is
needed, the way back is the browser's own, and paper has the same list.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from markdown_it.token import Token


@dataclass(frozen=True)
class Word:
    """A word, the other forms it is met in, and its meaning."""

    term: str
    forms: tuple[str, ...]
    meaning: str

    @property
    def anchor(self) -> str:
        return "word-" + re.sub(r"[^a-z0-9]+", "-", self.term.lower()).strip("-")


def read_glossary(text: str) -> list[Word]:
    """Return the words of a glossary in its order; a line that explains nothing is passed over."""
    words = []
    for line in text.splitlines():
        names, _, meaning = line.partition(":")
        forms = tuple(name.strip() for name in names.split(",") if name.strip())
        if forms and meaning.strip():
            words.append(Word(forms[0], forms, meaning.strip()))
    return words


def lines_amiss(text: str) -> list[str]:
    """Lines that hold something and explain nothing."""
    filled = [line for line in text.splitlines() if line.strip()]
    return [line.strip()[:60] for line in filled if not read_glossary(line)]


class Marker:
    """Finds the first use of each word in a page and makes a link of it."""

    def __init__(self, words: Sequence[Word]) -> None:
        self._by_form = {form.lower(): word for word in words for form in word.forms}
        self.used: list[Word] = []
        # the longest first: "focus ring" is not "focus"
        longest_first = sorted(self._by_form, key=len, reverse=True)
        either = "|".join(re.escape(form) for form in longest_first)
        self._find = re.compile(rf"(?<![\w-])(?:{either})(?![\w-])", re.IGNORECASE)

    def mark(self, children: list[Token]) -> list[Token]:
        """Return the inline tokens of one paragraph with its new words linked."""
        if not self._by_form:
            return children
        marked: list[Token] = []
        in_link = 0
        for child in children:
            in_link += child.nesting if child.type in ("link_open", "link_close") else 0
            marked += self._split(child) if child.type == "text" and not in_link else [child]
        return marked

    def _split(self, child: Token) -> list[Token]:
        parts: list[Token] = []
        at = 0
        for found in self._find.finditer(child.content):
            word = self._by_form[found[0].lower()]
            if word in self.used:
                continue
            self.used.append(word)
            parts += [_text(child.content[at : found.start()]), *_link(word, found[0])]
            at = found.end()
        return [*parts, _text(child.content[at:])] if parts else [child]


def _text(content: str) -> Token:
    return Token("text", "", 0, content=content)


def _link(word: Word, said: str) -> list[Token]:
    name = word.anchor
    attrs: dict[str, str | int | float] = {
        "href": f"#{name}",
        "id": f"said-{name}",
        "class": "word",
    }
    opening = Token("link_open", "a", 1, attrs=attrs)
    return [opening, _text(said), Token("link_close", "a", -1)]

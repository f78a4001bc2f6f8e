"""Two states of a page laid against each other, word by word. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any

#: What of a page's content is shown, and what it is called there.
NAMES = {
    "title": "Title",
    "aim": "Aim",
    "demonstration": "Demonstration",
    "problems": "What usually happens",
    "sayings": "Sentences to say aloud",
    "kind": "Kind",
    "topics": "Topics",
    "text": "Text",
    "criteria": "The brief in rows",
    "cautions": "Cautions",
    "indoor_twin": "Indoors instead",
    "from_a_chair": "From a chair",
    "subject_width_mm": "Subject width, mm",
    "subject_depth_mm": "Subject depth, mm",
    "finished_width_mm": "Finished print width, mm",
    "in_the_field": "In the field",
    "self_check": "The student looks first",
    "hidden": "Hidden until taught",
    "waived": "Findings not raised",
    "limits": "Lines of its own",
}


NEAR = 160  # letters shown on either side of a change


@dataclass(frozen=True)
class Part:
    """A stretch of words that stayed, went, or came."""

    what: str  # "same" | "gone" | "new"
    text: str


@dataclass(frozen=True)
class Change:
    """One thing of a page that reads otherwise."""

    name: str
    parts: list[Part]


def changes(then: Mapping[str, Any], now: Mapping[str, Any]) -> list[Change]:
    """Return what differs between two states, in the order of the page."""
    found = []
    for key, name in NAMES.items():
        before, after = said(key, then.get(key)), said(key, now.get(key))
        if before != after:
            found.append(Change(name, _in_short(list(word_by_word(before, after)))))
    return found


def _in_short(parts: list[Part]) -> list[Part]:
    """Keep of a long stretch that stayed only what stands next to a change."""
    short = []
    for k, part in enumerate(parts):
        text = part.text
        if part.what == "same" and len(text) > 2 * NEAR + 40:
            before = text[:NEAR] if k else ""
            after = text[-NEAR:] if k + 1 < len(parts) else ""
            text = f"{before} [ … ] {after}"
        short.append(Part(part.what, text))
    return short


def word_by_word(before: str, after: str) -> Iterator[Part]:
    old, new = _words(before), _words(after)
    matcher = SequenceMatcher(None, old, new, autojunk=False)
    for what, i, j, k, end in matcher.get_opcodes():
        if what == "equal":
            yield Part("same", "".join(old[i:j]))
            continue
        if j > i:
            yield Part("gone", "".join(old[i:j]))
        if end > k:
            yield Part("new", "".join(new[k:end]))


def said(key: str, value: Any) -> str:
    """One value of a page's content as a person reads it."""
    if key == "criteria":
        return "\n".join(_row(row) for row in value or [])
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(str(one) for one in value)
    if isinstance(value, dict):
        return ", ".join(f"{k}: {v}" for k, v in value.items())
    return "" if value is None else str(value)


def _row(row: Mapping[str, Any]) -> str:
    asked = str(row.get("quantity") or row.get("need"))
    ends = [
        f"{words} {row[key]:g}"
        for key, words in (("low", "at least"), ("high", "at most"))
        if row.get(key) is not None
    ]
    own = f" ({row['words']})" if row.get("words") else ""
    return f"{asked.replace('_', ' ')} {' and '.join(ends)}".strip() + own


def _words(text: str) -> list[str]:
    return re.findall(r"\s+|[^\s]+", text)

"""Markdown as plain blocks, for paper and for cards: what is read aloud, nothing else. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markdown_it import MarkdownIt
from markdown_it.token import Token

_reader = MarkdownIt("commonmark").enable("table")


@dataclass(frozen=True)
class Block:
    """A heading, a paragraph, an item of a list, or a row of a table."""

    kind: str  # "heading" | "paragraph" | "item" | "row"
    text: str
    level: int = 0
    picture: str = ""  # the name of the one drawing it is


def blocks(text: str) -> list[Block]:
    """Return the blocks of a Markdown text in order; raw HTML is not taken."""
    found: list[Block] = []
    around: list[str] = []
    counters: list[int | None] = []
    row: list[str] = []
    for token in _reader.parse(text or ""):
        if token.type in ("bullet_list_open", "ordered_list_open"):
            counters.append(1 if token.type.startswith("ordered") else None)
        elif token.type in ("bullet_list_close", "ordered_list_close"):
            counters.pop()
        elif token.type == "tr_open":
            row = []
        elif token.type == "tr_close":
            found.append(Block("row", " · ".join(row)))
        elif token.type in ("th_open", "td_open", "heading_open"):
            around.append(token.tag)
        elif token.type in ("th_close", "td_close", "heading_close"):
            around.pop()
        elif token.type == "inline":
            said = _said(token.children or [])
            place = around[-1] if around else ""
            if place in ("th", "td"):
                row.append(said)
            elif place.startswith("h"):
                found.append(Block("heading", said, int(place[1])))
            elif counters:
                found.append(Block("item", f"{_bullet(counters)} {said}", len(counters)))
            elif said:
                found.append(Block("paragraph", said, picture=_picture(token.children or [])))
        elif token.type in ("fence", "code_block"):
            found.append(Block("paragraph", token.content.strip()))
    return found


def lines(text: str) -> list[str]:
    """Return a Markdown text as plain lines."""
    return [block.text for block in blocks(text)]


def _said(children: Sequence[Token]) -> str:
    parts = []
    for child in children:
        if child.type in ("text", "code_inline"):
            parts.append(child.content)
        elif child.type in ("softbreak", "hardbreak"):
            parts.append(" ")
        elif child.type == "image":
            parts.append(f"(Drawing: {child.content})")
    return "".join(parts).strip()


def _picture(children: Sequence[Token]) -> str:
    """The name of a drawing that stands in a paragraph of its own."""
    if len(children) == 1 and children[0].type == "image":
        return str(children[0].attrs.get("src", ""))
    return ""


def _bullet(counters: list[int | None]) -> str:
    count = counters[-1]
    if count is None:
        return "–"  # noqa: RUF001 - a dash is the bullet
    counters[-1] = count + 1
    return f"{count}."

"""Markdown to clean HTML. Raw HTML is left out; remote pictures and scripts never come through."""

import re
from collections.abc import Callable, Collection, Sequence
from html import escape

import nh3
from markdown_it import MarkdownIt
from markdown_it.token import Token

from course.glossary import Marker, Word

TAGS = set(nh3.ALLOWED_TAGS) & {
    *("p", "h2", "h3", "h4", "h5", "ul", "ol", "li", "em", "strong", "blockquote", "code"),
    *("pre", "br", "hr", "a", "img", "table", "thead", "tbody", "tr", "th", "td"),
}
ATTRIBUTES = {
    "a": {"href", "title", "class", "id"},
    "img": {"src", "alt", "title"},
    "ol": {"start"},
}
HEADING = re.compile(r"(</?h)(\d)")
#: What never opens from a page of ours, whatever its text says.
NO_SCHEME = re.compile(r"\]\(\s*<?\s*((?:javascript|vbscript|data|file)\s*:)", re.IGNORECASE)

_reader = MarkdownIt("commonmark").enable("table")
# HTML is recognised in order to be left out whole: a script's text, too, and not only its tag.
_reader.add_render_rule("html_block", lambda *_: "")
_reader.add_render_rule("html_inline", lambda *_: "")
OURS = re.compile(r"pictures/|/(?!/)")


def _picture(renderer, tokens, at, options, env):
    """A picture of this house, or else the words that stand for it."""
    if OURS.match(str(tokens[at].attrs.get("src", ""))):
        return renderer.image(tokens, at, options, env)
    return escape(tokens[at].content)


_reader.add_render_rule("image", _picture)


def _only_ours(tag: str, attribute: str, value: str) -> str | None:
    """Pictures come from this house; a remote one would tell a stranger who reads."""
    if tag == "img" and attribute == "src" and not re.match(r"/(?!/)", value):
        return None
    if tag == "a" and attribute in ("class", "id"):
        return value if value == "word" or value.startswith("said-word-") else None
    return value


def to_html(text: str, pictures_at: str = "", marker: Marker | None = None) -> str:
    """Return safe HTML; headings move one step down, since the page has its own first heading.

    ``pictures_at`` is where a course's own ``pictures/...`` are served from, ending in a slash.
    ``marker`` links the words its glossary explains and remembers which were met.
    """
    tokens = _reader.parse(text or "")
    if marker:
        _mark(tokens, marker)
    html = _reader.renderer.render(tokens, _reader.options, {})
    if pictures_at:
        html = html.replace('src="pictures/', f'src="{pictures_at}pictures/')
    html = HEADING.sub(lambda m: m[1] + str(min(int(m[2]) + 1, 5)), html)
    return nh3.clean(
        html,
        tags=TAGS,
        attributes=ATTRIBUTES,
        attribute_filter=_only_ours,
        url_schemes={"http", "https", "mailto"},
        link_rel="noopener noreferrer",
    )


def _mark(tokens: Sequence[Token], marker: Marker) -> None:
    """Link explained words in paragraphs and lists; a heading stays a heading."""
    in_heading = False
    for token in tokens:
        if token.type in ("heading_open", "heading_close"):
            in_heading = token.nesting > 0
        elif token.type == "inline" and token.children and not in_heading:
            token.children = marker.mark(token.children)


def with_words(text: str, pictures_at: str, words: Sequence[Word]) -> tuple[str, list[Word]]:
    """Return safe HTML in which explained words are links, and the words that were met."""
    marker = Marker(words)
    return to_html(text, pictures_at, marker), marker.used


def left_out(text: str, pictures: Collection[str], leads: Callable[[str], bool]) -> list[str]:
    """Say what of a text does not reach the page, and why, for whoever wrote it.

    ``pictures`` are the course's own by name; ``leads`` tells whether an address of this house
    opens a page.
    """
    said = []
    for token in _all_tokens(text):
        if token.type in ("html_block", "html_inline"):
            if token.content.startswith("</"):
                continue  # it was named where it opened
            said.append(f"HTML is left out: {_short(token.content)}")
        elif token.type == "image":
            said.append(_about_picture(str(token.attrs.get("src", "")), pictures))
        elif token.type == "link_open":
            said.append(_about_link(str(token.attrs.get("href", "")), leads))
    said += [f"A link to {scheme} is left out." for scheme in NO_SCHEME.findall(text or "")]
    return list(dict.fromkeys(filter(None, said)))


def _all_tokens(text):
    for token in _reader.parse(text or ""):
        yield token
        yield from token.children or ()


def _about_picture(source, pictures):
    if source.startswith("pictures/"):
        if source in pictures:
            return ""
        return f"{source} is not among the pictures of this course, so nothing shows."
    if OURS.match(source):
        return ""
    return (
        f"The picture {_short(source)} is left out: pictures come from this house alone. Put the "
        "file among the pictures of the course."
    )


def _about_link(target, leads):
    if not target:
        return "A link leads nowhere: its address is empty."
    if target.startswith("#") or re.match(r"[a-z][a-z0-9+.-]*:|//", target, re.IGNORECASE):
        return ""
    return "" if leads(target) else f"The link to {_short(target)} leads nowhere in this house."


def _short(text):
    line = " ".join(text.split())
    return line if len(line) <= 60 else line[:59] + "…"

"""Markdown to clean HTML. Raw HTML is not taken; remote pictures and scripts never come through."""

import re

import nh3
from markdown_it import MarkdownIt

TAGS = set(nh3.ALLOWED_TAGS) & {
    *("p", "h2", "h3", "h4", "h5", "ul", "ol", "li", "em", "strong", "blockquote", "code"),
    *("pre", "br", "hr", "a", "img", "table", "thead", "tbody", "tr", "th", "td"),
}
ATTRIBUTES = {"a": {"href", "title"}, "img": {"src", "alt", "title"}, "ol": {"start"}}
HEADING = re.compile(r"(</?h)(\d)")

_reader = MarkdownIt("commonmark", {"html": False}).enable("table")


def _own_pictures_only(tag, attribute, value):
    """Pictures come from this house; a remote one would tell a stranger who reads."""
    if tag == "img" and attribute == "src" and not re.match(r"/(?!/)", value):
        return None
    return value


def to_html(text: str, pictures_at: str = "") -> str:
    """Return safe HTML; headings move one step down, since the page has its own first heading.

    ``pictures_at`` is where a course's own ``pictures/...`` are served from, ending in a slash.
    """
    html = _reader.render(text or "")
    if pictures_at:
        html = html.replace('src="pictures/', f'src="{pictures_at}pictures/')
    html = HEADING.sub(lambda m: m[1] + str(min(int(m[2]) + 1, 5)), html)
    return nh3.clean(
        html,
        tags=TAGS,
        attributes=ATTRIBUTES,
        attribute_filter=_own_pictures_only,
        url_schemes={"http", "https", "mailto"},
        link_rel="noopener noreferrer",
    )

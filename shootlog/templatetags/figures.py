"""A bare number on a page, in a named style and with its unit: `{{ mm|written:"two mm" }}`."""

from django import template

from shootlog import wording

register = template.Library()
OPEN = "–"  # noqa: RUF001 - a place for a number that is not there yet


@register.filter
def written(value, style_and_unit):
    """Write a number as every other page does; an open place where there is none."""
    if value is None or value == "":
        return OPEN
    style, _, unit = style_and_unit.partition(" ")
    text = wording.written(value, style)
    return f"{text} {unit}" if unit else text

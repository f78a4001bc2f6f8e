"""What a frame's own page, a page of the log, says by the rules of the course."""

from django import template

from course.own_page import own_page_of

register = template.Library()


@register.simple_tag
def told_of(frame):
    return own_page_of(frame)


@register.inclusion_tag("course/_said_of_frame.html", takes_context=True)
def said_of(context, page):
    """What they wanted, then the point, then two more, folded."""
    return {"page": page, "crop_url": context.get("crop_url", ""), "frame": context.get("frame")}

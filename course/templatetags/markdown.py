from django import template
from django.urls import reverse
from django.utils.safestring import mark_safe

from course.markdown import to_html

register = template.Library()


@register.filter
def markdown(text, course_id=None):
    """Markdown as safe HTML; with a course's id its own pictures are shown."""
    pictures_at = reverse("course:course", args=[course_id]) if course_id else ""
    return mark_safe(to_html(text, pictures_at))  # noqa: S308 - cleaned by to_html

from django import template
from django.utils.safestring import mark_safe

from course.markdown import to_html

register = template.Library()


@register.filter
def markdown(text):
    return mark_safe(to_html(text))  # noqa: S308 - cleaned by to_html

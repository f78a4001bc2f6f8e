"""A lesson to take home: its text, the week's briefs, and one's own numbers, as PDF."""

from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from course.cards_of import cards_of
from course.glossary import read_glossary
from course.markdown import with_words
from course.models import Group, Lesson
from course.paper import POINTS, handout_pdf
from course.plain_text import Block, blocks
from course.views.card import address_maker, as_pdf

HANDOUT_SIZES = ("a5", "a4")


@login_required
@require_safe
def handout(request, pk, size, points):
    if size not in HANDOUT_SIZES or points not in POINTS:
        raise Http404
    lesson = get_object_or_404(
        Lesson.objects.visible_to(request.user).select_related("week__course"), pk=pk
    )
    group = (
        Group.objects.visible_to(request.user)
        .filter(course=lesson.week.course_id)
        .order_by("-pk")
        .first()
    ) or Group(course=lesson.week.course, name=lesson.week.course.title)
    # The numbers belong to the lesson's week, whichever week the group is in.
    group.week_now = lesson.week.number
    (card,) = cards_of(group, [request.user], address_maker(request))
    sections = [*blocks(lesson.text), *_words(lesson)]
    shown = lesson.week.course.pictures.filter(name__in={block.picture for block in sections})
    data = handout_pdf(
        lesson.title,
        sections,
        card,
        size=size,
        points=points,
        pictures={picture.name: bytes(picture.content) for picture in shown},
    )
    return as_pdf(data, f"handout-{size}-{points}pt.pdf")


def _words(lesson):
    """The words the lesson uses and its glossary explains, as the page has them at its end."""
    _, used = with_words(lesson.text, "", read_glossary(lesson.week.course.glossary))
    if used:
        yield Block("heading", "Words used here", 2)
    for word in used:
        yield Block("paragraph", f"{word.term[:1].upper()}{word.term[1:]}: {word.meaning}")

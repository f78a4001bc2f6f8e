"""The field card: on the page, on the phone without signal, and on paper."""

import segno
from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from course.cards_of import cards_of
from course.models import Group
from course.paper import POINTS, cards_pdf

CARD_SIZES = ("a6", "a5")


@login_required
@require_safe
def cards(request):
    """Where the installed page begins: the card of one's group, or a choice of groups."""
    groups = list(Group.objects.visible_to(request.user).select_related("course").order_by("-pk"))
    if len(groups) == 1:
        return _show(request, groups[0])
    return render(request, "course/cards.html", {"groups": groups})


@login_required
@require_safe
def card(request, pk):
    return _show(request, _group(request, pk))


@login_required
@require_safe
def card_paper(request, pk, size, points):
    """One's own card as PDF; `?for=everyone` gives those who teach the whole group's."""
    group = _group(request, pk)
    if size not in CARD_SIZES or points not in POINTS:
        raise Http404
    people = [request.user]
    if request.GET.get("for") == "everyone":
        if not Group.objects.taught_by(request.user).filter(pk=pk).exists():
            raise Http404
        people = list(
            User.objects.filter(enrolments__group=group, enrolments__left_at=None)
            .select_related("person")
            .order_by("person__display_name")
        )
    made = cards_of(group, people, address_maker(request))
    return as_pdf(cards_pdf(made, size=size, points=points), f"field-card-{size}-{points}pt.pdf")


def _show(request, group):
    (made,) = cards_of(group, [request.user], address_maker(request))
    teaches = Group.objects.taught_by(request.user).filter(pk=group.pk).exists()
    code = segno.make(made.address, error="m", micro=False)
    return render(
        request,
        "course/card.html",
        {
            "group": group,
            "card": made,
            "code": code.svg_data_uri(border=4, scale=4),
            "papers": [(size, points) for size in CARD_SIZES for points in POINTS],
            "teaches": teaches,
        },
    )


def _group(request, pk):
    return get_object_or_404(Group.objects.visible_to(request.user).select_related("course"), pk=pk)


def address_maker(request):
    """Return the function that writes the full address a square code leads to."""

    def address_of(exercise):
        path = (
            reverse("course:exercise", args=[exercise.pk]) if exercise else reverse("course:cards")
        )
        return (
            settings.PUBLIC_URL + path if settings.PUBLIC_URL else request.build_absolute_uri(path)
        )

    return address_of


def as_pdf(data, name):
    return HttpResponse(
        data,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )

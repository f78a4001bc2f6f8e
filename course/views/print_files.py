"""The pictures of a hand-in, for those who may see the hand-in; never the original file."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from course.models import HandIn
from shootlog.models import Frame
from shootlog.views.frame import how_we_know_context
from shootlog.views.pictures import crop_answer, overlay_answer, picture_answer
from shootlog.views.series import proof_answer


@login_required
@require_safe
def screen(request, pk, frame_pk):
    return picture_answer(request, _frame(request, pk, frame_pk), "screen.jpg")


@login_required
@require_safe
def thumb(request, pk, frame_pk):
    return picture_answer(request, _frame(request, pk, frame_pk), "thumb.jpg")


@login_required
@require_safe
def crop(request, pk, frame_pk):
    return crop_answer(request, _frame(request, pk, frame_pk))


@login_required
@require_safe
def over(request, pk, frame_pk, kind):
    """What the picture shows is for its maker and those who review it, not for the group."""
    row = get_object_or_404(_own_or_taught(request.user), pk=pk)
    frame = get_object_or_404(Frame.objects.filter(hand_in_places__hand_in=row), pk=frame_pk)
    return overlay_answer(request, frame, kind)


@login_required
@require_safe
def how_we_know(request, pk, frame_pk):
    """Every number of a frame for those who review it."""
    row = get_object_or_404(HandIn.objects.reviewable_by(request.user).standing(), pk=pk)
    frame = get_object_or_404(Frame.objects.filter(hand_in_places__hand_in=row), pk=frame_pk)
    back = reverse("course:look", args=[pk])
    return render(
        request,
        "shootlog/how_we_know.html",
        how_we_know_context(frame, request.user) | {"back": back},
    )


@login_required
@require_safe
def proof(request, pk):
    """The proof picture shows every frame of the series, handed in or not: not for the group."""
    row = get_object_or_404(_own_or_taught(request.user).exclude(series=None), pk=pk)
    return proof_answer(row.series)


def _own_or_taught(user):
    own = HandIn.objects.handed_in_by(user)
    taught = HandIn.objects.reviewable_by(user).standing()
    return (own | taught).distinct()


def _frame(request, pk, frame_pk):
    row = get_object_or_404(HandIn.objects.visible_to(request.user), pk=pk)
    return get_object_or_404(Frame.objects.filter(hand_in_places__hand_in=row), pk=frame_pk)

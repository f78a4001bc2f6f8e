"""One frame as its owner sees it: the print, its line, the numbers and how we know them."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from shootlog.blur_in_words import blur_words
from shootlog.file_trouble import file_trouble
from shootlog.forms import TellForm
from shootlog.jobs import work_out_frame
from shootlog.models import Frame
from shootlog.privacy import WHERE_AND_WHEN, hides_where_and_when, recorded_for
from shootlog.series_job import ask_for_series_of
from shootlog.shown import blocks, facts, first_rows, routes


@login_required
@require_safe
def frame(request, pk):
    frame = _own(request, pk)
    return _page(request, frame, TellForm(instance=frame))


@login_required
@require_POST
def tell(request, pk):
    """Take what the owner told of this frame, and work its numbers out again."""
    frame = _own(request, pk)
    form = TellForm(request.POST, instance=frame)
    if not form.is_valid():
        return _page(request, frame, form, status=422)
    form.save()
    if frame.set_up:
        frame.set_up.touch()
    work_out_frame(frame)
    ask_for_series_of(frame)
    messages.success(request, "Noted. The numbers were worked out again.")
    return redirect("shootlog:frame", pk)


def _page(request, frame, form, status=200):
    reading = frame.what_was_read
    return render(
        request,
        "shootlog/frame.html",
        {
            "frame": frame,
            "rows": first_rows(reading) if reading else [],
            "blur": blur_words(reading) if reading else [],
            "question": reading.question if reading else None,
            "trouble": file_trouble(reading),
            "form": form,
        },
        status=status,
    )


@login_required
@require_safe
def how_we_know(request, pk):
    frame = _own(request, pk)
    return render(request, "shootlog/how_we_know.html", how_we_know_context(frame, request.user))


def how_we_know_context(frame, user):
    """What the page needs; the course shows the same page to those who may look."""
    reading = frame.what_was_read
    recorded = recorded_for(frame, user)
    held = WHERE_AND_WHEN if hides_where_and_when(frame, user) else ()
    return {
        "frame": frame,
        "blocks": blocks(reading) if reading else [],
        "routes": routes(reading) if reading else [],
        "facts": facts(reading, held) if reading else [],
        "tags": sorted(recorded["origins"].items()) if recorded else [],
    }


def _own(request, pk):
    return get_object_or_404(
        Frame.objects.owned_by(request.user)
        .select_related("set_up", "camera")
        .prefetch_related("flags"),
        pk=pk,
    )

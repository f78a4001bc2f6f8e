"""One frame as its owner sees it: the print, its line, the numbers and how we know them."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from shootlog.blur_in_words import blur_words
from shootlog.file_trouble import file_trouble
from shootlog.forms import SharpPlaceForm, TellForm
from shootlog.jobs import read_frame, work_out_frame
from shootlog.models import Frame
from shootlog.privacy import WHERE_AND_WHEN, hides_where_and_when, recorded_for
from shootlog.series_job import ask_for_series_of
from shootlog.sharp_place import in_percent, in_words
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


@login_required
@require_POST
def sharp_place(request, pk):
    """Take where it should be sharp, and have the picture looked at again."""
    frame = _own(request, pk)
    if not _can_be_tapped(frame):
        raise Http404
    form = SharpPlaceForm(request.POST, frame=frame)
    if not form.is_valid():
        return _page(request, frame, TellForm(instance=frame), status=422, sharp=form)
    frame.wanted_area = form.cleaned_data["area"]
    frame.save(update_fields=["wanted_area"])
    read_frame.enqueue(frame.pk)
    messages.success(
        request, "Noted. The picture is looked at once more; what is found comes in a moment."
    )
    return redirect("shootlog:frame", pk)


def _can_be_tapped(frame):
    return frame.is_readable and frame.size_as_seen is not None


def _page(request, frame, form, status=200, sharp=None):
    reading = frame.what_was_read
    if sharp is None and _can_be_tapped(frame):
        sharp = SharpPlaceForm(frame=frame)
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
            "sharp": sharp,
            "sharp_at": in_percent(frame.wanted_area) if frame.wanted_area else [],
            "sharp_words": in_words(frame.wanted_area) if frame.wanted_area else "",
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

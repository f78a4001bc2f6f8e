"""Pictures and files, handed out one by one to people who may see them.

The answers are made here for whoever may look; the course's pages ask in their own way who that
is and use the same answers.
"""

from django.contrib.auth.decorators import login_required
from django.http import (
    FileResponse,
    Http404,
    HttpResponse,
    HttpResponseNotModified,
    HttpResponseRedirect,
)
from django.shortcuts import get_object_or_404
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from shootlog import store
from shootlog.crops import NoCrop
from shootlog.crops import crop as crop_of
from shootlog.models import Frame
from shootlog.overlays import DRAWN_AS, overlay


def picture_answer(request, frame, name):
    """The derivative `name` of a frame, or 404 while there is none."""
    tag = f'"{frame.pk}-{frame.read_version}-{name}"'
    if request.headers.get("If-None-Match") == tag:
        return _private(HttpResponseNotModified(), tag)
    try:
        with store.store().open(f"{frame.shown_key}/{name}") as file:
            picture = file.read()
    except FileNotFoundError:
        raise Http404("There is no picture of this frame yet.") from None
    return _private(HttpResponse(picture, content_type="image/jpeg"), tag)


def crop_answer(request, frame):
    """A part of the original at its own pixels: ?x=..&y=..&w=..&h=.. in pixels."""
    tag = f'"{frame.sha256[:16]}-{request.META["QUERY_STRING"]}"'
    if request.headers.get("If-None-Match") == tag:
        return _private(HttpResponseNotModified(), tag)
    try:
        x, y, w, h = (int(request.GET[key]) for key in "xywh")
        part = crop_of(frame, left=x, top=y, width=w, height=h)
    except (KeyError, ValueError) as trouble:
        words = str(trouble) if isinstance(trouble, NoCrop) else "Give x, y, w and h in pixels."
        return HttpResponse(words, status=400, content_type="text/plain; charset=utf-8")
    except FileNotFoundError:
        raise Http404("The original is not there.") from None
    return _private(HttpResponse(part, content_type="image/jpeg"), tag)


def overlay_answer(request, frame, kind):
    """A drawing to lie over the print, made from the maps kept when its pixels were read."""
    tag = f'"{frame.pk}-{frame.read_at.timestamp():.0f}-{kind}-{DRAWN_AS}"' if frame.read_at else ""
    if tag and request.headers.get("If-None-Match") == tag:
        return _private(HttpResponseNotModified(), tag)
    drawing = overlay(frame, kind)
    if drawing is None:
        raise Http404("There is nothing to lay over this print.")
    return _private(HttpResponse(drawing, content_type="image/svg+xml"), tag)


def _private(answer, tag):
    answer["ETag"] = tag
    answer["Cache-Control"] = "private, max-age=3600"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@login_required
@require_safe
def screen(request, pk):
    return picture_answer(request, _own(request, pk), "screen.jpg")


@login_required
@require_safe
def thumb(request, pk):
    return picture_answer(request, _own(request, pk), "thumb.jpg")


@login_required
@require_safe
def crop(request, pk):
    return crop_answer(request, _own(request, pk))


@login_required
@require_safe
def over(request, pk, kind):
    return overlay_answer(request, _own(request, pk), kind)


@login_required
@require_safe
def original(request, pk):
    """The untouched bytes, for their owner only; always a download, never shown in the page."""
    frame = _own(request, pk)
    name = frame.sent_name or f"frame-{frame.pk}"
    link = store.link(frame.original_key, name)
    if link:
        answer = HttpResponseRedirect(link)
        answer["Cache-Control"] = "private, no-store"
        return answer
    try:
        file = store.store().open(frame.original_key)
    except FileNotFoundError:
        raise Http404("The original is not there.") from None
    answer = FileResponse(file, content_type="application/octet-stream")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name)
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Cache-Control"] = "private, no-store"
    return answer


def _own(request, pk):
    return get_object_or_404(Frame.objects.owned_by(request.user), pk=pk)

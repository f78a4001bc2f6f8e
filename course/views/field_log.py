"""The field log: three taps, kept on the phone until there is signal, matched to frames later."""

import json
import uuid
from datetime import datetime, timedelta

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponseBadRequest, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shootlog.forms import SUPPORT_WORDS
from shootlog.jobs import work_out_frame
from shootlog.models import FieldNote, Frame, KeptSetUp
from shootlog.models.field_note import REACH, match

WINDS = ("still", "light", "gusty")
HOURS = tuple(range(1, 13))
OFFERED_SET_UPS = 4
MOST_AT_ONCE = 500
LARGEST_POST = 512 * 1024
CLOCK_SLACK = timedelta(seconds=60)  # a phone's clock this near is right enough
OLDEST = timedelta(days=400)


@login_required
@ensure_csrf_cookie
@require_http_methods(["GET", "HEAD", "POST"])
def field_log(request):
    """The taps; posted as a plain form they are kept at once."""
    if request.method == "POST":
        tapped = _tapped(request.POST, request.user, _own_set_ups(request.user))
        FieldNote.objects.create(
            owner=request.user, phone_id=uuid.uuid4(), noted_at=timezone.now(), **tapped
        )
        messages.success(request, "Noted.")
        return redirect("course:field-log")
    return render(
        request,
        "course/field_log.html",
        {
            "set_ups": KeptSetUp.objects.offered_to(request.user)[:OFFERED_SET_UPS],
            "supports": SUPPORT_WORDS.items(),
            "hours": HOURS,
            "winds": WINDS,
            "open_notes": FieldNote.objects.open_for(request.user).count(),
        },
    )


@login_required
@require_POST
def send(request):
    """Notes that waited on the phone. Sent twice, each is kept once."""
    if len(request.body) > LARGEST_POST:
        return HttpResponseBadRequest("Too many notes at once; send them in parts.\n")
    try:
        told = json.loads(request.body)
        notes = list(told["notes"])[:MOST_AT_ONCE]
        skew = _skew(told.get("sent_at"))
    except (ValueError, KeyError, TypeError, AttributeError):
        return HttpResponseBadRequest("These are no notes of the field log.\n")
    own = _own_set_ups(request.user)
    rows, kept, refused = [], [], []
    for note in notes:
        row = _row(note, request.user, own, skew)
        if row is None:
            refused.append(str(note.get("phone_id")) if isinstance(note, dict) else "")
        else:
            rows.append(row)
            kept.append(str(note["phone_id"]))
    FieldNote.objects.bulk_create(rows, ignore_conflicts=True)
    return JsonResponse({"kept": kept, "refused": refused})


def _own_set_ups(user):
    return {row.pk: row for row in KeptSetUp.objects.owned_by(user)}


def _skew(sent_at):
    """How far the phone's clock is from ours; small differences are the way's."""
    if not sent_at:
        return timedelta(0)
    skew = timezone.now() - _moment(sent_at)
    return skew if abs(skew) > CLOCK_SLACK else timedelta(0)


def _moment(text):
    moment = datetime.fromisoformat(str(text))
    return moment if moment.tzinfo else timezone.make_aware(moment)


def _row(note, user, own, skew):
    try:
        phone_id = uuid.UUID(str(note["phone_id"]))
        noted_at = _moment(note["noted_at"]) + skew
        if not (timezone.now() - OLDEST <= noted_at <= timezone.now() + timedelta(days=1)):
            return None
        tapped = _tapped(note, user, own)
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError):
        return None
    return FieldNote(owner=user, phone_id=phone_id, noted_at=noted_at, **tapped)


def _tapped(told, user, own):
    """Take what was tapped; what is none of the choices is left open."""
    set_up, clock = str(told.get("set_up") or ""), str(told.get("light_clock") or "")
    support, wind = told.get("support"), told.get("wind")
    hour = int(clock) if clock.isdecimal() and len(clock) < 3 else None
    return {
        "set_up": own.get(int(set_up)) if set_up.isdecimal() and len(set_up) < 18 else None,
        "support": support if support in SUPPORT_WORDS else "",
        "light_clock": hour if hour in HOURS else None,
        # an open box says nothing: it may only not have been tapped
        "diffuser": True if told.get("diffuser") else None,
        "card": True if told.get("card") else None,
        "wind": wind if wind in WINDS else "",
    }


@login_required
@require_safe
def field_notes(request):
    """Notes waiting for their frames: two queries, however many there are."""
    notes = list(FieldNote.objects.open_for(request.user))
    frames = list(_near(request.user, notes))
    offered = match(notes, frames)
    return render(
        request,
        "course/field_notes.html",
        {"notes": [(note, offered[note.pk]) for note in notes]},
    )


def _near(user, notes):
    if not notes:
        return Frame.objects.none()
    return (
        Frame.objects.owned_by(user)
        .filter(
            state=Frame.State.READY,
            taken_at__gte=notes[0].noted_at - REACH,
            taken_at__lte=notes[-1].noted_at + REACH,
        )
        .order_by("taken_at")
    )


@login_required
@require_POST
def settle(request, pk):
    """Tell the ticked frames what the note says, and work their numbers out again."""
    note = get_object_or_404(FieldNote.objects.open_for(request.user), pk=pk)
    if "none" in request.POST:
        note.settle()
        messages.success(request, "Put away; no frame was told anything.")
        return redirect("course:field-notes")
    wanted = [int(k) for k in request.POST.getlist("frames") if k.isdecimal()]
    frames = list(
        Frame.objects.owned_by(request.user)
        .select_related("set_up", "camera")
        .filter(pk__in=wanted, state=Frame.State.READY)
    )
    if not frames:
        messages.info(request, "No frame was ticked; the note waits.")
        return redirect("course:field-notes")
    note.tell(frames)
    for frame in frames:
        work_out_frame(frame)
    count = f"{len(frames)} frame{'s' if len(frames) != 1 else ''}"
    messages.success(request, f"Told of {count}; their numbers are worked out again.")
    return redirect("course:field-notes")

"""To look at: the instructor's table of prints, and one print after another."""

import json

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from course.crit_forms import CritForm, TableForm
from course.marks_shown import marks_shown, source_of
from course.models import Group, HandIn, Phrase
from course.phrases import offered
from course.what_is_told import prints_for_instructor, series_for_instructor

ON_THE_TABLE = 60
WALK_AT_MOST = 600  # prints laid out for one walk from print to print
WALKS_KEPT = 3  # tables a person has open at once


@login_required
@require_safe
def to_look_at(request):
    """The table: who needs a person first, and why, in words."""
    form = TableForm(request.GET, user=request.user)
    HandIn.objects.reviewable_by(request.user).waiting().judge()
    found = HandIn.objects.to_look_at(request.user).matching(**form.chosen())
    _lay_out(request, found)
    table = Paginator(found.for_table(), ON_THE_TABLE).get_page(request.GET.get("table"))
    return render(
        request,
        "course/to_look_at.html",
        {
            "table": table,
            "form": form,
            "narrowed": bool(form.chosen()),
            "query": request.GET.urlencode(),
            "groups": Group.objects.taught_by(request.user).filter(closed_at=None),
        },
    )


@login_required
@require_POST
def many(request):
    """The same answer for many prints at once."""
    rows = HandIn.objects.reviewable_by(request.user).standing()
    ticked = [pk for pk in request.POST.getlist("hand_in") if pk.isdecimal()]
    rows = list(rows.filter(pk__in=ticked))
    act = request.POST.get("act")
    if not rows:
        messages.warning(request, "Tick the prints first.")
    elif act == "talked":
        for row in rows:
            row.talk_through(by=request.user)
        messages.success(request, f"Talked through: {_prints(rows)}.")
    elif act == "keep":
        for row in rows:
            row.keep(by=request.user)
        messages.success(request, f"Kept: {_prints(rows)}.")
    elif act == "release":
        released = [row for row in rows if row.release(by=request.user)]
        if released:
            messages.success(request, f"Released: {_prints(released)}. Their makers see it now.")
        if len(released) < len(rows):
            messages.warning(request, "Prints you said nothing of yet were not released.")
    return redirect(f"{reverse('course:to-look-at')}?{request.POST.get('query', '')}")


def _prints(rows):
    return "one print" if len(rows) == 1 else f"{len(rows)} prints"


@login_required
@require_http_methods(["GET", "HEAD"])
def look(request, pk):
    """One print: the picture, what they wanted, the point, your words."""
    row = _reviewable(request, pk)
    if "X-Fetched" not in request.headers:  # fetched ahead is not yet seen by anyone
        row.mark_seen()
    crit = row.crit_of(request.user)
    prints = prints_for_instructor(row, points=crit.points)
    if not prints:
        raise Http404("No frame is left in this hand-in.")
    number = number_of(request.GET.get("frame"), len(prints))
    shown = prints[number - 1]
    marks = marks_shown([crit])
    return render(
        request,
        "course/look.html",
        _walk(request, pk)
        | {
            "hand_in": row,
            "crit": crit,
            "others": [c for c in row.crits.all() if c.pk != crit.pk and not c.is_empty],
            "prints": prints,
            "together": series_for_instructor(row),
            "shown": shown,
            "shown_number": number,
            "next_frame": number % len(prints) + 1,
            "marks_here": marks.get(shown.frame.pk, []),
            "marks_json": _as_sent(marks),
            "asks_why": any(
                f.set_aside_at and not f.set_aside_why for f in shown.frame.flags.all()
            ),
            "form": CritForm(instance=crit, sources={}, initial={"revision": crit.revision}),
            "release_with_it": request.session.get("release_with_it", False),
            "phrases": offered(
                Phrase.objects.written_by(request.user).values_list("about", "words"),
                shown.told.raised,
                row.verdicts or [],
            ),
        },
    )


def number_of(text, most):
    number = int(text) if text and text.isdecimal() else 1
    return min(max(number, 1), most)


def _as_sent(marks):
    """The short form the page edits and sends back."""
    keys = ("frame", "kind", "at", "words")
    return json.dumps([{k: m[k] for k in keys} for each in marks.values() for m in each])


def _reviewable(request, pk):
    HandIn.objects.reviewable_by(request.user).filter(pk=pk).judge()
    return get_object_or_404(HandIn.objects.reviewable_by(request.user).for_print(), pk=pk)


def _lay_out(request, found):
    """Keep the order of a table; another tab may walk along another one."""
    walk = list(found.values_list("pk", flat=True)[:WALK_AT_MOST])
    before = [one for one in request.session.get("walks") or [] if one != walk]
    request.session["walks"] = [walk, *before][:WALKS_KEPT]
    return walk


def _walk(request, pk):
    """The prints before and after this one, in the order a table with it was last laid out."""
    walks = request.session.get("walks") or []
    walk = next((one for one in walks if pk in one), None)
    if walk is None:
        walk = _lay_out(request, HandIn.objects.to_look_at(request.user))
    if pk not in walk:
        return {"before": None, "after": walk[0] if walk else None, "place": None, "of": len(walk)}
    at = walk.index(pk)
    return {
        "before": walk[at - 1] if at else None,
        "after": walk[at + 1] if at + 1 < len(walk) else None,
        "place": at + 1,
        "of": len(walk),
    }


def sources_of(row):
    return {frame.pk: source_of(frame.pk) for frame in row.frames_in_order()}


def back_to(request, pk):
    """The print again, at the frame that was looked at."""
    frame = request.POST.get("frame", "")
    here = reverse("course:look", args=[pk])
    return redirect(f"{here}?frame={frame}" if frame.isdecimal() else here)


def done_with(request, pk):
    """Where to go when a print is done with: the next one, or back to the table."""
    if request.POST.get("stay") == "yes":
        return back_to(request, pk)
    following = _walk(request, pk)["after"]
    return redirect("course:look", following) if following else redirect("course:to-look-at")

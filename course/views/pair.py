"""The pair: the first print and its reshoot, side by side."""

from django.contrib.auth.decorators import login_required
from django.http import Http404, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from course.models import HandIn
from shootlog.laid_over import laid_over
from shootlog.shown import changed


@login_required
@require_safe
def pair(request, pk):
    """Shown to its maker and to those who review it; `pk` is the reshoot."""
    first, row, before, after = _both(request, pk)
    readings = before.what_was_read, after.what_was_read
    return render(
        request,
        "course/pair.html",
        {
            "first": first,
            "second": row,
            "sides": [(first, before, "before"), (row, after, "after")],
            "changes": changed(*readings) if all(readings) else [],
            "asked": _asked(first),
            "mine": row.student_id == request.user.pk,
        },
    )


@login_required
@require_safe
def laid(request, pk):
    """How the second lies on the first, for the wipe; asked for by the page once it is there."""
    _, _, before, after = _both(request, pk)
    return JsonResponse(laid_over(before, after))


def _both(request, pk):
    rows = HandIn.objects.for_print().exclude(reshoot_of=None)
    row = get_object_or_404(rows.filter(pk__in=_may_see(request.user)), pk=pk)
    first = HandIn.objects.for_print().get(pk=row.reshoot_of_id)
    frames = [r.first_frame for r in (first, row)]
    if not all(frames):
        raise Http404("One of the two has no frame any more.")
    return first, row, *frames


def _may_see(user):
    own = HandIn.objects.handed_in_by(user).values("pk")
    return HandIn.objects.reviewable_by(user).values("pk").union(own)


def _asked(first):
    """The one thing that was asked, where a released crit asked it."""
    return next((c.one_thing for c in reversed(first.released_crits) if c.one_thing), "")

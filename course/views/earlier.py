"""How a week, a lesson or an exercise read before: kept by whom and when, brought back."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from course.compare import changes
from course.models import Course, Revision, Week
from course.models.revision import content_of
from course.views.write import PAGES, back_to_week

MOST_SHOWN = 100


@login_required
@require_safe
def earlier(request, kind, pk):
    page = _page(request.user, kind, pk)
    kept = Revision.objects.of(page).select_related("saved_by__person")[:MOST_SHOWN]
    context = {"page": page, "kind": kind, "kept": kept, "place": _place(page, kind)}
    return render(request, "course/earlier.html", context)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def one_earlier(request, kind, pk, revision_pk):
    """Lay a former text against the one of today; posting brings it back."""
    page = _page(request.user, kind, pk)
    kept = get_object_or_404(
        Revision.objects.of(page).select_related("saved_by__person"), pk=revision_pk
    )
    if request.method == "POST":
        kept.bring_back(by=request.user)
        messages.success(request, "Brought back. What it said until now is kept among the earlier.")
        return redirect(_place(page, kind))
    return render(
        request,
        "course/one_earlier.html",
        {
            "page": page,
            "kind": kind,
            "kept": kept,
            "place": _place(page, kind),
            "changes": changes(kept.content, content_of(page)),
        },
    )


def _place(page, kind):
    return back_to_week(page) if kind == "week" else reverse(f"course:{kind}", args=[page.pk])


def _page(user, kind, pk):
    if kind == "week":
        return get_object_or_404(Week, course__in=Course.objects.led_by(user), pk=pk)
    return get_object_or_404(PAGES[kind].objects.led_by(user).select_related("week"), pk=pk)

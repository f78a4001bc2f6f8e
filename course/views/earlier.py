"""How a lesson or an exercise read before: who saved it and when, compared, brought back."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from course.compare import changes
from course.models import Revision
from course.models.revision import content_of
from course.views.write import PAGES

MOST_SHOWN = 100


@login_required
@require_safe
def earlier(request, kind, pk):
    page = _page(request.user, kind, pk)
    kept = Revision.objects.of(page).select_related("saved_by__person")[:MOST_SHOWN]
    return render(request, "course/earlier.html", {"page": page, "kind": kind, "kept": kept})


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
        return redirect(f"course:{kind}", page.pk)
    return render(
        request,
        "course/one_earlier.html",
        {
            "page": page,
            "kind": kind,
            "kept": kept,
            "changes": changes(kept.content, content_of(page)),
        },
    )


def _page(user, kind, pk):
    return get_object_or_404(PAGES[kind].objects.led_by(user).select_related("week"), pk=pk)

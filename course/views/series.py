"""A series as its owner sees it: what is said of it waits for its week, as with a frame."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from course.models import HandIn
from course.what_is_told import held_for
from shootlog.models import KeptPlan, Series
from shootlog.plan_forms import PlanForm
from shootlog.series_job import tell_series
from shootlog.series_shown import series_block

STACKED = (Series.Kind.STACK, Series.Kind.LANDSCAPE)


@login_required
@require_safe
def series(request, pk):
    row = get_object_or_404(
        Series.objects.owned_by(request.user).prefetch_related(
            "places__frame__set_up", "flags", "plans"
        ),
        pk=pk,
    )
    together = series_block(
        row,
        thumb=lambda frame_pk: reverse("shootlog:thumb", args=[frame_pk]),
        proof_url=reverse("shootlog:proof", args=[pk]),
        why_held=held_for(request.user),
    )
    return render(
        request, "shootlog/series.html", {"series": row, "together": together} | _beside(row)
    )


def _beside(row):
    """What lies beside the series: the plan it was shot from, the set-up its best stop is kept on.

    Nothing is asked of the frames again: the page has them.
    """
    said = {"set_up": _kept_on(row)}
    if row.kind not in STACKED or not row.confirmed:
        return said
    plan = next(iter(row.plans.all()), None)
    if plan is not None:
        plan.series = row  # the frames fetched with it
        return said | {"plan": plan, "comparison": plan.comparison()}
    if KeptPlan.objects.owned_by(row.owner_id).exists():
        return said | {"plan_form": PlanForm(owner=row.owner_id)}
    return said


def _kept_on(row):
    """The set-up of an aperture series, where its best aperture is kept."""
    set_ups = {place.frame.set_up for place in row.places.all()}
    if row.kind != Series.Kind.APERTURES or len(set_ups) != 1:
        return None
    kept = set_ups.pop()
    return kept if kept and kept.best_f_number else None


@login_required
@require_POST
def animal_left(request, pk):
    """The animal left: a good end to an approach; a second tap takes it back."""
    row = get_object_or_404(
        Series.objects.owned_by(request.user).filter(kind=Series.Kind.APPROACH), pk=pk
    )
    tell_series(row, animal_left=None if row.animal_left else True)
    HandIn.objects.filter(series=row).update(judged_at=None)  # the brief is asked again
    messages.success(request, "Noted.")
    return redirect("course:series", pk)

"""What the owner does with a series: yes or no to an offer, the plan beside it, how it ended.

Its page is the course's (`course.views.series`): what is said of it waits for its week.
"""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST, require_safe

from shootlog import store
from shootlog.models import Series
from shootlog.plan_forms import PlanForm
from shootlog.series_job import ask_for, lay_beside


@login_required
@require_safe
def proof(request, pk):
    return proof_answer(_own(request, pk))


def proof_answer(row):
    """The proof picture of a series, for whoever the page that asks lets see it."""
    if not (row.check_result or {}).get("proof"):
        raise Http404("There is no proof picture of this series.")
    try:
        with store.store().open(row.proof_key) as file:
            picture = file.read()
    except FileNotFoundError:
        raise Http404("There is no proof picture of this series yet.") from None
    answer = HttpResponse(picture, content_type="image/png")
    answer["Cache-Control"] = "private, no-cache"  # a frame may be deleted from it
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@login_required
@require_POST
def belong_together(request, pk):
    """One tap: the frames that were offered are a series."""
    row = _own(request, pk)
    with transaction.atomic():
        Series.objects.filter(pk=row.pk).update(confirmed=True)
        ask_for(Series.objects.settled().filter(pk=row.pk))
    return redirect("course:series", pk)


@login_required
@require_POST
def not_a_series(request, pk):
    """They do not belong together, and are not offered so again."""
    row = get_object_or_404(Series.objects.owned_by(request.user).offered(), pk=pk)
    row.told = row.told | {"not_so": True}
    row.save(update_fields=["told"])
    messages.success(request, "Noted. They stay single frames.")
    return redirect("shootlog:log")


@login_required
@require_POST
def plan_beside(request, pk):
    """The plan it was shot from is laid beside it, and it is looked at again with that."""
    row = _own(request, pk)
    form = PlanForm(request.POST, owner=request.user)
    if form.is_valid():
        lay_beside(form.cleaned_data["plan"], row)
        messages.success(request, "The plan lies beside it now.")
    else:
        messages.info(request, "Choose one of your kept plans.")
    return redirect("course:series", pk)


def _own(request, pk):
    return get_object_or_404(Series.objects.owned_by(request.user), pk=pk)

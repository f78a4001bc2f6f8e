"""A stack planned before it is shot, kept, and laid beside what came of it."""

import math

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shootlog.models import KeptPlan
from shootlog.plan_beside import to_count
from shootlog.plan_forms import BesideForm, ChooseSetUpForm, LandscapeForm, StackForm
from shootlog.series_job import lay_beside
from shootlog.side_view import depth_band
from shootlog.stack_plan import close_plan, landscape_plan
from shootlog.views.planner import first_values
from shootlog.what_if import what_if


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def stack(request):
    """By rail or by ring: asked by address, kept by posting the same answers."""
    return _plan(request, StackForm, _close, "shootlog/stack_plan.html")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def landscape(request):
    """Few frames from near to far, with the distances to set."""
    return _plan(request, LandscapeForm, _far, "shootlog/landscape_plan.html")


def _plan(request, form_class, work, template):
    chosen = request.GET.get("set_up", "")
    asked = {k: v for k, v in request.GET.items() if k != "set_up"}
    given = request.POST if request.method == "POST" else asked
    initial = first_values(request.user, int(chosen) if chosen.isdecimal() else None)
    form = form_class(given or None, initial=initial)
    context = {"form": form, "choose": ChooseSetUpForm(owner=request.user)}
    if form.is_valid():
        try:
            context |= work(form)
        except ValueError as trouble:
            form.add_error(None, f"This cannot be planned: {trouble}.")
    if request.method == "POST" and form.is_valid():
        kept = KeptPlan.objects.create(
            owner=request.user,
            name=request.POST.get("name", "").strip()[:120] or _name(context["plan"]),
            asked=form.cleaned_data,
            found=context["plan"].as_json(),
        )
        messages.success(request, f"“{kept}” is kept. Lay the series beside it afterwards.")
        return redirect("planning:kept", kept.pk)
    return render(request, template, context)


def _close(form):
    asked = form.asked
    values = form.cleaned_data
    plan = close_plan(
        asked, way=values["way"], metered_s=values["metered_s"], pause_s=values["pause_s"]
    )
    found = what_if(asked)
    return {"plan": plan, "found": found, "band": depth_band(asked, found), "asked": asked}


def _far(form):
    values = form.cleaned_data
    far_m = values["far_m"]
    return {"plan": landscape_plan(**values | {"far_m": math.inf if far_m is None else far_m})}


def _name(plan):
    day = timezone.localdate()
    return f"{plan.frames} frames by {plan.way}, {day.day} {day:%B}"


@login_required
@require_safe
def kept_plans(request):
    plans = KeptPlan.objects.owned_by(request.user).select_related("series")
    return render(request, "shootlog/kept_plans.html", {"plans": plans})


@login_required
@require_safe
def kept(request, pk):
    plan = _own(request, pk)
    return render(
        request,
        "shootlog/kept_plan.html",
        {
            "plan": plan,
            "beside": BesideForm(owner=request.user),
            "comparison": plan.comparison(),
            "to_count": to_count(plan.found),
        },
    )


@login_required
@require_POST
def beside(request, pk):
    plan = _own(request, pk)
    form = BesideForm(request.POST, owner=request.user)
    if form.is_valid():
        series = form.cleaned_data["series"]
        lay_beside(plan, series)
        messages.success(request, f"“{series}” now knows what was planned for it.")
    else:
        messages.info(request, "Choose one of your own series.")
    return redirect("planning:kept", pk)


@login_required
@require_POST
def forget(request, pk):
    plan = _own(request, pk)
    plan.delete()
    messages.success(request, f"“{plan}” is gone. The series shot from it stays.")
    return redirect("planning:kept-plans")


def _own(request, pk):
    return get_object_or_404(
        KeptPlan.objects.owned_by(request.user).select_related("series"), pk=pk
    )

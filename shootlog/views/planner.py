"""Before the shutter: what this kit would do to that subject. Works with no course at all."""

import json
from dataclasses import asdict
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from optics.blur import disc_table
from optics.solve import Body, Lens, Subject
from shootlog.ladder import ladder
from shootlog.models import KeptSetUp, KitItem
from shootlog.plan_forms import KIT_FORMS, WhatIfForm, WishForm
from shootlog.planner import choices, whole_kit
from shootlog.side_view import curves, depth_band, side_view
from shootlog.what_if import what_if

MOST_ITEMS = 60  # a bag, not a shop
USUAL_RATIO = 0.15  # of a lens whose ratio nobody told; common practice, no source


def wish(request):
    """Return what the planner's first page shows: the wish, and the ways that fulfil it."""
    form = WishForm(request.GET or None)
    items = list(KitItem.objects.owned_by(request.user))
    context = {"form": form, "items": items, "kit_words": _kit_words(items)}
    if not form.is_valid():
        return context
    kit = _kit(items)
    if kit is None:
        return context | {"why_none": "Tell at least one body and one lens; then this can answer."}
    asked = form.cleaned_data
    subject = Subject(asked["width_mm"], asked["depth_mm"], asked["closest_mm"] or 0.0)
    try:
        found, why = choices(kit, subject)
    except ValueError as trouble:  # a kit number outside what means anything; it is named
        return context | {"why_none": f"This cannot be worked out: {trouble}."}
    return context | {"choices": [_shown(one) for one in found], "why_none": why}


def _shown(choice):
    query = urlencode({k: _short(v) for k, v in asdict(choice.asked).items() if v is not None})
    return {
        "choice": choice,
        "found": choice.found,
        "side": side_view(choice.asked, choice.found),
        "band": depth_band(choice.asked, choice.found),
        "query": query,
    }


def _short(value):
    return f"{value:.6g}"


def _kit(items):
    """The rows as the solver takes them; None where no frame could be made with them."""
    of = _by_kind(items)
    if not (of["body"] and of["lens"]):
        return None
    return whole_kit(
        _bodies(of),
        _lenses(of),
        [item.length_mm for item in of["tube"]],
        [item.power_dioptre for item in of["close-up"]],
        [item.factor for item in of["converter"]],
    )


def _by_kind(items):
    return {kind: [item for item in items if item.kind == kind] for kind in KIT_FORMS}


def _bodies(of):
    return [Body(item.name, item.sensor_width_mm, item.sensor_height_mm) for item in of["body"]]


def _lenses(of):
    return [
        Lens(
            item.name,
            item.focal_length_mm,
            item.largest_ratio or USUAL_RATIO,
            item.closest_focal_length_mm,
            item.widest_f_number or 2.8,
            pupil_magnification=item.pupil_ratio or 1.0,
            principal_plane_to_rim_mm=item.rim_mm,
        )
        for item in of["lens"]
    ]


@login_required
@require_safe
def ladder_page(request):
    """What each rung of the gear ladder brings with this person's own lenses."""
    of = _by_kind(list(KitItem.objects.owned_by(request.user)))
    if not (of["body"] and of["lens"]):
        return render(request, "shootlog/ladder.html", {})
    bodies = _bodies(of)
    chosen = request.GET.get("body", "")
    body = bodies[min(max(int(chosen) if chosen.isdecimal() else 1, 1), len(bodies)) - 1]
    rungs = ladder(
        body,
        _lenses(of),
        [item.length_mm for item in of["tube"]],
        [item.power_dioptre for item in of["close-up"]],
    )
    context = {"rungs": rungs, "body": body, "bodies": bodies}
    return render(request, "shootlog/ladder.html", context)


def _kit_words(items):
    """The bag in one line."""
    return ", ".join(_item_words(item) for item in items)


def _item_words(item):
    if item.kind == "tube":
        return f"{item.length_mm:g} mm tube"
    if item.kind == "close-up":
        return f"close-up lens +{item.power_dioptre:g}"
    if item.kind == "converter":
        return f"{item.factor:g}× converter"
    return item.name


@login_required
@require_safe
def what_if_page(request):
    """One set-up, turned this way and that; the page recomputes what it can by itself."""
    form = WhatIfForm(request.GET or None, initial=first_values(request.user))
    context = {"form": form, "blur_table": _blur_table()}
    if form.is_valid():
        asked = form.asked
        found = what_if(asked)
        context |= {
            "found": found,
            "asked": asked,
            "side": side_view(asked, found),
            "band": depth_band(asked, found),
            "curves": curves(asked),
        }
    return render(request, "shootlog/what_if.html", context)


def first_values(user, pk=None):
    """A set-up to begin with: the one asked for, else the one used last, else nothing."""
    kept = KeptSetUp.objects.offered_to(user)
    kept = kept.filter(pk=pk).first() if pk else kept.first()
    if kept is None:
        return {}
    values = {
        "focal_length_mm": kept.focal_length_mm,
        "lens_magnification": kept.ring_magnification,
        "tube_mm": kept.tube_mm,
        "close_up_dioptre": kept.close_up_dioptre,
        "converter": kept.teleconverter,
        "pupil_ratio": kept.pupil_magnification,
        "sensor_width_mm": kept.sensor_width_mm,
        "f_number": kept.best_f_number or 8,
    }
    return {key: value for key, value in values.items() if value is not None}


def _blur_table():
    """Waves of defocus and the disc as soft, for the page's own arithmetic."""
    waves, discs = disc_table()
    return json.dumps([[round(float(v), 6) for v in row] for row in (waves, discs)])


# --- the kit ---


@login_required
@require_safe
def kit(request):
    return _kit_page(request, {})


@login_required
@require_POST
def add(request, kind):
    if kind not in KIT_FORMS:
        raise Http404
    if KitItem.objects.owned_by(request.user).count() >= MOST_ITEMS:
        messages.info(request, f"{MOST_ITEMS} things are in this bag already: take one out first.")
        return redirect("planning:kit")
    form = KIT_FORMS[kind](
        request.POST, instance=KitItem(owner=request.user, kind=kind), prefix=kind
    )
    if not form.is_valid():
        return _kit_page(request, {kind: form})
    form.save()
    messages.success(request, f"{_item_words(form.instance)} is in the bag.")
    return redirect("planning:kit")


@login_required
@require_POST
def from_set_ups(request):
    """Fill the bag with what the log's set-ups name already."""
    count = KitItem.objects.bring_from_set_ups(request.user)
    words = f"{count} things came out of your set-ups." if count else "Nothing new is in them."
    messages.success(request, words)
    return redirect("planning:kit")


@login_required
@require_POST
def remove(request, pk):
    item = get_object_or_404(KitItem.objects.owned_by(request.user), pk=pk)
    said = _item_words(item)
    item.delete()
    messages.success(request, f"{said} is out of the bag.")
    return redirect("planning:kit")


def _kit_page(request, bound):
    forms = [bound.get(kind) or form(prefix=kind) for kind, form in KIT_FORMS.items()]
    items = KitItem.objects.owned_by(request.user)
    return render(
        request,
        "shootlog/kit.html",
        {
            "forms": forms,
            "items": [(item, _item_words(item)) for item in items],
            "has_set_ups": KeptSetUp.objects.offered_to(request.user).exists(),
        },
    )

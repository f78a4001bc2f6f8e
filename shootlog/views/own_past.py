"""My own numbers: what my hand, my lenses and my companion object did over the weeks."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from shootlog.models import Frame
from shootlog.own_past import HELD_WORDS, advice, floors, floors_plot, hits_plot, hits_words
from shootlog.own_past_of import (
    best_apertures_of,
    bursts_of,
    companion_of,
    hand_frames_of,
    untold_count,
)

OFFERED = 60  # the newest frames to choose a companion's from
MOST_SHOWN = 52  # a year of weeks


@login_required
@require_safe
def own_numbers(request):
    """Only the person's own past; no other person's numbers stand anywhere near."""
    user = request.user
    bursts = bursts_of(user)
    rows = floors(hand_frames_of(user))
    return render(
        request,
        "shootlog/own_numbers.html",
        {
            "bursts": [(burst, hits_words(burst)) for burst in bursts],
            "hits_plot": hits_plot(bursts),
            "advice": advice(bursts),
            "floors": rows,
            "floors_plot": floors_plot(rows),
            "held_share": HELD_WORDS,
            "untold": untold_count(user),
            "best": best_apertures_of(user),
            "companion": companion_of(user)[:MOST_SHOWN],
        },
    )


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def companion(request):
    """Tick the frames of one's companion object: the same thing, shot again over the weeks."""
    chosen = set(companion_of(request.user).values_list("pk", flat=True))
    newest = Frame.objects.for_contact_sheet(request.user).filter(state=Frame.State.READY)
    offered = list(newest.filter(pk__in=chosen)) + [
        frame for frame in newest[:OFFERED] if frame.pk not in chosen
    ]
    if request.method == "POST":
        ticked = {int(pk) for pk in request.POST.getlist("frames") if pk.isdecimal()}
        _keep([frame for frame in offered if (frame.pk in ticked) != (frame.pk in chosen)])
        messages.success(request, "Kept.")
        return redirect("shootlog:own-numbers")
    return render(request, "shootlog/companion.html", {"offered": offered, "chosen": chosen})


@transaction.atomic
def _keep(changed):
    """Turn what was told of these frames: companion or not."""
    frames = Frame.objects.select_for_update().in_bulk([frame.pk for frame in changed])
    for frame in frames.values():
        told = {k: v for k, v in frame.told.items() if k != "companion"}
        frame.told = told if "companion" in frame.told else told | {"companion": True}
    Frame.objects.bulk_update(frames.values(), ["told"], 200)

"""What stood in front of the sensor: kept, offered again, measured with a ruler frame."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shootlog.forms import RulerForm, SetUpForm
from shootlog.models import Frame, KeptSetUp
from shootlog.ruler_taps import scale_of
from shootlog.set_up_groups import group_set_ups

OFFERED = 24  # the newest frames to choose a ruler frame from


@login_required
@require_safe
def set_ups(request):
    kept = KeptSetUp.objects.offered_to(request.user).select_related("ruler_frame")
    return render(request, "shootlog/set_ups.html", {"groups": group_set_ups(kept)})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def edit_set_up(request, pk=None):
    kept = _own(request, pk) if pk else KeptSetUp(owner=request.user)
    form = SetUpForm(request.POST or None, instance=kept)
    if form.is_valid():
        form.save()
        messages.success(request, f"“{kept.name}” is kept and offered with your next frames.")
        return redirect("shootlog:set-ups")
    return render(request, "shootlog/set_up.html", {"form": form, "kept": kept})


@login_required
@require_POST
def retire(request, pk):
    _own(request, pk).retire()
    messages.success(request, "Not offered any more. Frames taken with it keep it.")
    return redirect("shootlog:set-ups")


@login_required
@require_safe
def choose_ruler(request, pk):
    frames = Frame.objects.for_contact_sheet(request.user).filter(state=Frame.State.READY)
    return render(
        request,
        "shootlog/choose_ruler.html",
        {"kept": _own(request, pk), "frames": frames[:OFFERED]},
    )


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def ruler(request, pk, frame_pk):
    """Two marks on the ruler, and how many millimetres lie between them."""
    kept = _own(request, pk)
    frame = get_object_or_404(
        Frame.objects.owned_by(request.user).filter(state=Frame.State.READY), pk=frame_pk
    )
    pitch = frame.pixel_pitch_um
    known = pitch is not None or kept.sensor_width_mm is not None
    form = RulerForm(request.POST or None, ask_sensor=not known, initial={"millimetres": 10})
    if form.is_valid():
        scale = scale_of(form.distance_px, form.cleaned_data["millimetres"])
        if not known:
            kept.sensor_width_mm = form.cleaned_data["sensor_width_mm"]
            kept.save(update_fields=["sensor_width_mm"])
        kept.measured_with(
            frame,
            px_per_mm=scale.px_per_mm,
            low=scale.low,
            high=scale.high,
            pixel_pitch_um=frame.pitch_with(kept.sensor_width_mm),
        )
        messages.success(
            request, f"“{kept.name}” works at {kept.ruler_magnification:.2g} times life size."
        )
        return redirect("shootlog:set-up", pk)
    return render(
        request,
        "shootlog/ruler.html",
        {"kept": kept, "frame": frame, "form": form, "size": frame.size_as_seen},
    )


def _own(request, pk):
    return get_object_or_404(KeptSetUp.objects.owned_by(request.user), pk=pk)

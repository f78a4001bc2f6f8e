"""One's cameras: their clocks put right by a photograph of the clock page, their sensor width."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from shootlog.camera_form import CameraForm
from shootlog.jobs import work_out_frame
from shootlog.models import Camera
from shootlog.series_job import ask_for_series_from


@login_required
@require_safe
def cameras(request):
    found = Camera.objects.owned_by(request.user).order_by("make", "model", "pk")
    return render(request, "shootlog/cameras.html", {"cameras": found})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def camera(request, pk):
    """Tell what the clock page showed, or how far the clock is off, and how wide the sensor is."""
    found = get_object_or_404(Camera.objects.owned_by(request.user), pk=pk)
    form = CameraForm(request.POST or None, camera=found)
    if form.is_valid():
        if form.cleaned_data["offset_s"] is not None:
            found.put_clock_right(form.cleaned_data["offset_s"])
            ask_for_series_from(found)
        if found.tell_sensor_width(form.cleaned_data["sensor_width_mm"]):
            for frame in found.frames.select_related("set_up", "camera").exclude(recorded=None):
                work_out_frame(frame)
        messages.success(request, f"{found}: kept. Its frames stand in their right order now.")
        return redirect("shootlog:cameras")
    return render(request, "shootlog/camera.html", {"form": form, "camera": found})


@login_required
@require_safe
def clock(request):
    """The time of this house, large, to be photographed with every camera one uses."""
    return render(request, "shootlog/clock.html", {"now": timezone.localtime()})

"""A person's own things: take everything along, delete a frame, leave for good."""

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.http import StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from course.account_forms import DeleteMeForm
from course.belongings import archive
from course.leaving import forget_frames, forget_person, led_alone, what_remains
from course.models import AuditLine, HandIn
from course.views.safety import password_waits
from shootlog.models import Frame


@login_required
@require_safe
def my_things(request):
    frames = Frame.objects.owned_by(request.user)
    sizes = frames.values_list("size_bytes", flat=True)
    return render(
        request,
        "course/my_things.html",
        {
            "frames": len(sizes),
            "megabytes": -(-sum(sizes) // 10**6),
            "hand_ins": HandIn.objects.handed_in_by(request.user).count(),
        },
    )


@login_required
@require_POST
def take_everything(request):
    AuditLine.objects.note("everything taken", by=request.user)
    answer = StreamingHttpResponse(archive(request.user), content_type="application/zip")
    name = f"working-distance-{timezone.localdate():%Y-%m-%d}.zip"
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name)
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Cache-Control"] = "private, no-store"
    return answer


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def delete_frame(request, pk):
    frames = Frame.objects.owned_by(request.user).filter(pk=pk)
    frame = get_object_or_404(frames)
    if request.method == "POST":
        forget_frames(frames, by=request.user)
        messages.success(request, f"{frame} is deleted, with every picture made from it.")
        return redirect("shootlog:log")
    hand_ins = HandIn.objects.filter(places__frame=frame).select_related("exercise")
    return render(request, "course/delete_frame.html", {"frame": frame, "hand_ins": hand_ins})


@login_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def delete_me(request):
    form = DeleteMeForm(request.POST or None, user=request.user)
    if request.method == "POST" and not password_waits(request, form) and form.is_valid():
        remains = forget_person(request.user)
        logout(request)
        return render(request, "course/deleted.html", {"remains": remains})
    return render(
        request,
        "course/delete_me.html",
        {
            "form": form,
            "remains": what_remains(request.user),
            "led_alone": led_alone(request.user),
            "frames": Frame.objects.owned_by(request.user).count(),
        },
    )

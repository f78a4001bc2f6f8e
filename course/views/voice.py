"""The spoken part of a crit: kept, heard, taken away."""

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from course.models import Crit, HandIn
from course.voice import NoVoice, forget_voice, keep_voice, read_voice


@login_required
@require_POST
def keep(request, pk):
    """A recording from the review page, or no file at all to take the old one away."""
    row = get_object_or_404(HandIn.objects.reviewable_by(request.user), pk=pk)
    file = request.FILES.get("voice")
    try:
        key = keep_voice(file, author_pk=request.user.pk) if file else ""
    except NoVoice as trouble:
        return JsonResponse({"trouble": str(trouble)}, status=422)
    crit = row.crit_by(request.user)
    before, crit.voice_key = crit.voice_key, key
    crit.save(update_fields=["voice_key"])
    forget_voice(before)
    if request.headers.get("X-Requested-With") == "fetch":
        return JsonResponse({"hear": reverse("course:voice", args=[crit.pk])})
    return redirect("course:look", pk)


@login_required
@require_safe
def hear(request, pk):
    """Only for those who may read the crit."""
    crit = get_object_or_404(Crit.objects.readable_by(request.user).exclude(voice_key=""), pk=pk)
    try:
        data, media_type = read_voice(crit.voice_key)
    except (FileNotFoundError, NoVoice):
        raise Http404("The note is not there.") from None
    answer = HttpResponse(data, content_type=media_type)
    answer["Cache-Control"] = "private, no-store"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer

"""What the instructor says of a print: words, marks, a decision, and the release."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from course.crit_forms import CritForm, PhraseForm
from course.models import HandIn, Phrase
from course.models.crit import OldPage
from course.phrases import VERDICTS, numbers_of
from course.views.review import back_to, done_with, sources_of
from shootlog.findings import all_findings
from shootlog.models import Flag


@login_required
@require_POST
def words(request, pk):
    """Keep what was written so far; a page in the background asks every few seconds."""
    row = _reviewable(request, pk)
    crit, form = _bound(request, row)
    if not form.is_valid():
        return JsonResponse({"trouble": _first(form)}, status=422)
    try:
        crit.save_said(revision=form.cleaned_data["revision"], **form.said())
    except OldPage as old:
        return JsonResponse(
            {"trouble": str(old), "words": old.crit.words, "revision": old.crit.revision},
            status=409,
        )
    at = timezone.localtime(crit.changed_at)
    return JsonResponse({"revision": crit.revision, "kept_at": f"{at:%H:%M:%S}"})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def decide(request, pk):
    """Words and decision in one act: keep, ask for a reshoot, talked through, or just the words."""
    row = _reviewable(request, pk)
    if request.method != "POST":  # whoever had to sign in on the way comes by here
        return redirect("course:look", pk)
    crit, form = _bound(request, row)
    if not form.is_valid():
        messages.warning(request, _first(form))
        return back_to(request, pk)
    try:
        crit.save_said(revision=form.cleaned_data["revision"], **form.said())
    except OldPage as old:
        return render(
            request,
            "course/old_page.html",
            {"hand_in": row, "now": old.crit, "mine": form.cleaned_data},
            status=409,
        )
    decision = request.POST.get("decision", "")
    try:
        _decide(row, decision, request.user, crit.one_thing)
    except ValueError as trouble:
        messages.warning(request, str(trouble))
        return back_to(request, pk)
    request.session["release_with_it"] = request.POST.get("release") == "yes"
    if request.session["release_with_it"]:
        row.release(by=request.user)
    if request.headers.get("X-Requested-With") == "fetch":  # the page shows the next print itself
        return HttpResponse(status=204)
    return done_with(request, pk)


def _decide(row, decision, user, one_thing):
    if decision == "kept":
        row.keep(by=user)
    elif decision == "reshoot asked":
        row.ask_reshoot(by=user, one_thing=one_thing)
    elif decision == "talked through":
        row.talk_through(by=user)
    elif decision == "nothing":
        row.decide_nothing(by=user)
    if decision in ("kept", "reshoot asked", "talked through"):
        Flag.objects.filter(frame__hand_in_places__hand_in=row).look()
        Flag.objects.filter(series__hand_ins=row).look()


@login_required
@require_POST
def release(request, pk):
    row = _reviewable(request, pk)
    if request.POST.get("take_back") == "yes":
        row.crit_by(request.user).take_back()
        messages.success(request, "Taken back. They do not see it until you release it again.")
    else:
        said = row.release(by=request.user)
        words = "Released. They see your words now." if said else "Say something first."
        messages.success(request, words)
    return done_with(request, pk)


@login_required
@require_POST
def not_so(request, pk, frame_pk, finding):
    """One tap: this finding is not so. A second tap lets it stand again."""
    row = _reviewable(request, pk)
    flag = get_object_or_404(
        Flag.objects.filter(frame__hand_in_places__hand_in=row), frame=frame_pk, finding=finding
    )
    if flag.set_aside_at and request.POST.get("stand") == "yes":
        flag.stand_again()
    else:
        flag.set_aside(by=request.user, why=request.POST.get("why", ""))
    if request.headers.get("X-Requested-With") == "fetch":
        return HttpResponse(status=204)
    return back_to(request, pk)


@login_required
@require_POST
def not_so_series(request, pk, finding):
    """The same for a finding about the series: one tap on the reason sets it aside."""
    row = _reviewable(request, pk)
    flag = get_object_or_404(Flag, series__hand_ins=row, finding=finding)
    if flag.set_aside_at and request.POST.get("stand") == "yes":
        flag.stand_again()
    else:
        flag.set_aside(by=request.user, why=request.POST.get("why", ""))
    if request.headers.get("X-Requested-With") == "fetch":
        return HttpResponse(status=204)
    return redirect(f"{reverse('course:look', args=[pk])}#series-{row.series_id}")


@login_required
@require_POST
def say_first(request, pk, finding):
    """The instructor chooses which finding is the point."""
    row = _reviewable(request, pk)
    crit = row.crit_by(request.user)
    crit.points = crit.points | {"main": "" if crit.points.get("main") == finding else finding}
    crit.save(update_fields=["points"])
    return back_to(request, pk)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def phrases(request):
    """One's own sentences, kept for saying again; with ?change= one of them is written anew."""
    chosen = request.GET.get("change", "")
    phrase = Phrase(author=request.user)
    if chosen.isdecimal():
        phrase = get_object_or_404(Phrase.objects.written_by(request.user), pk=int(chosen))
    form = PhraseForm(request.POST or None, instance=phrase)
    if form.is_valid():
        form.save()
        messages.success(request, "Kept. It is offered under every print that has its numbers.")
        return redirect("course:phrases")
    own = Phrase.objects.written_by(request.user)
    names = {slug: one.title for slug, one in all_findings().items()} | VERDICTS
    knows = [(name, numbers) for slug, name in names.items() if (numbers := numbers_of(slug))]
    said = [(phrase, names.get(phrase.about, "any print")) for phrase in own]
    context = {"form": form, "phrases": said, "knows": knows}
    return render(request, "course/phrases.html", context)


@login_required
@require_POST
def forget_phrase(request, pk):
    get_object_or_404(Phrase.objects.written_by(request.user), pk=pk).delete()
    return redirect("course:phrases")


def _reviewable(request, pk):
    return get_object_or_404(HandIn.objects.reviewable_by(request.user).for_print(), pk=pk)


def _bound(request, row):
    crit = row.crit_by(request.user)
    return crit, CritForm(request.POST, instance=crit, sources=sources_of(row))


def _first(form):
    return next(iter(form.errors.values()))[0]

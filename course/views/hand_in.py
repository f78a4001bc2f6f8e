"""Handing in, and what came back."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from course.hand_in_forms import WELFARE, HandInForm, LookFirstForm
from course.hand_in_forms import looked_first as said_first
from course.models import Exercise, Group, HandIn
from course.views.review import number_of
from course.what_is_told import prints_for_student, series_for_student
from shootlog.intake.receive import Refused, receive
from shootlog.series_job import lay_beside, put_together


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def hand_in(request, pk):
    """The brief, the newest frames to tick, files to send, and two lines to say."""
    exercise = (
        Exercise.objects.taken_by(request.user)
        .select_related("week__course")
        .prefetch_related("criteria")
        .filter(pk=pk)
        .first()
    )
    if exercise is None:
        return _no_longer_theirs(request, pk)
    again = _asked_again(request)
    form = HandInForm(
        request.POST or None, request.FILES or None, exercise=exercise, student=request.user
    )
    if form.is_valid():
        frames, troubles = _frames_of(form, request.user)
        for words in troubles:
            messages.warning(request, words)
        if frames:
            row = _put_forward(form, frames, again)
            messages.success(request, "Handed in. Your instructor sees it now.")
            return redirect("course:came-back", row.pk)
    return render(
        request,
        "course/hand_in.html",
        {
            "exercise": exercise,
            "form": form,
            "again": again,
            "welfare": [key for key, _ in WELFARE],
            "ticked": request.POST.getlist("frames") or request.GET.getlist("frame"),
        },
    )


def _no_longer_theirs(request, pk):
    """Somebody who was in the group till a moment ago: what they send goes to their log."""
    were_in = Exercise.objects.filter(
        week__course__groups__enrolments__in=request.user.enrolments.exclude(left_at=None)
    )
    get_object_or_404(were_in.distinct(), pk=pk)
    for file in request.FILES.getlist("files"):
        try:
            receive(file, owner=request.user, name=file.name)
        except Refused as words:
            messages.warning(request, str(words))
    messages.warning(
        request,
        "You are not in the group of this exercise any more, so nothing was handed in. "
        "Your frames are here in your log, and stay yours. If you meant to stay, ask whoever "
        "teaches it.",
    )
    return redirect("shootlog:log")


def _asked_again(request):
    """The hand-in this is a reshoot of, where it is one of one's own."""
    pk = request.POST.get("reshoot_of") or request.GET.get("reshoot_of") or ""
    if not pk.isdecimal():
        return None
    return get_object_or_404(HandIn.objects.handed_in_by(request.user).for_print(), pk=pk)


def _frames_of(form, student):
    """Ticked frames and files sent along, in time order; words for what was refused."""
    frames = {frame.pk: frame for frame in form.cleaned_data["frames"]}
    troubles = []
    for file in form.cleaned_data.get("files") or []:
        try:
            frame, _ = receive(file, owner=student, name=file.name)
        except Refused as words:
            troubles.append(str(words))
        else:
            frames[frame.pk] = frame
    in_order = sorted(frames.values(), key=lambda f: (f.taken_at or f.received_at, f.pk))
    return in_order, troubles


@transaction.atomic
def _put_forward(form, frames, again):
    exercise, student = form.exercise, form.student
    said = form.said()
    before = HandIn.objects.same_again(exercise=exercise, student=student, frames=frames)
    if before and before.say_again(**said):
        return before
    if exercise.is_series and len(frames) > 1:
        said["series"] = put_together(
            owner=student,
            kind=exercise.kind,
            frames=frames,
            name=exercise.title,
            **exercise.told_of_series(),
        )
        if form.cleaned_data.get("plan"):
            lay_beside(form.cleaned_data["plan"], said["series"])
    row = HandIn.objects.hand_in(
        exercise=exercise,
        group=Group.objects.that_gets(exercise, student),
        student=student,
        frames=frames,
        reshoot_of=again,
        **said,
    )
    seen = form.looked_first()
    if any(seen.values()):
        row.look_first(**seen)
    return row


@login_required
@require_safe
def came_back(request, pk):
    """What the student sees of a hand-in: facts at once, the crit when released."""
    row = get_object_or_404(
        HandIn.objects.handed_in_by(request.user).for_print().prefetch_related("reshoots"), pk=pk
    )
    HandIn.objects.handed_in_by(request.user).filter(pk=pk).judge()
    row.refresh_from_db(fields=["verdicts"])
    prints = prints_for_student(row)
    number = number_of(request.GET.get("frame"), len(prints))
    first_look = row.waits_for_own_look and row.withdrawn_at is None
    together = None if first_look else series_for_student(row)
    return render(
        request,
        "course/came_back.html",
        {
            "hand_in": row,
            "crits": row.released_crits,
            "prints": prints,
            "shown": prints[number - 1] if prints else None,
            "shown_number": number,
            "first_look": LookFirstForm(exercise=row.exercise) if first_look else None,
            "together": together,
            "verdicts": verdicts_for_student(row),
            "state": row.state_for_student,
            "reshoots": [again for again in row.reshoots.all() if again.withdrawn_at is None],
        },
    )


def verdicts_for_student(row):
    """Each verdict, with what only its maker sees.

    `own`: the student had ticked it as met before. `say_at`: where it hangs on what held the
    camera, the first frame for which nobody said so; its page asks.
    """
    criteria, met = row.exercise.criteria.all(), set(row.self_checked.get("met", ()))
    ticked = {c.in_words for c in criteria if c.pk in met}
    hang = {c.in_words for c in criteria if c.need == "tripod"}
    return [
        verdict
        | {
            "own": verdict["criterion"] in ticked,
            "say_at": _unsaid(row)
            if verdict["criterion"] in hang and verdict["verdict"] == "can't tell"
            else None,
        }
        for verdict in row.verdicts or []
    ]


def _unsaid(row):
    read = ((frame, frame.what_was_read) for frame in row.frames_in_order())
    return next((frame for frame, reading in read if reading and not reading.fact("support")), None)


@login_required
@require_POST
def looked_first(request, pk):
    """What the student sees, said before the app says anything; then the page opens."""
    row = get_object_or_404(
        HandIn.objects.handed_in_by(request.user).select_related("exercise"), pk=pk
    )
    form = LookFirstForm(request.POST, exercise=row.exercise)
    if not row.self_checked:
        form.is_valid()  # what is too long is left out; nothing here may keep the page shut
        skipped = "skip" in request.POST
        row.look_first(**({} if skipped else said_first(form.cleaned_data)))
    return redirect("course:came-back", pk)


@login_required
@require_POST
def withdraw(request, pk):
    row = get_object_or_404(HandIn.objects.handed_in_by(request.user).standing(), pk=pk)
    row.withdraw()
    messages.success(request, "Taken back. The frames stay in your log.")
    return redirect("course:this-week")


@login_required
@require_POST
def share(request, pk):
    """Consent to projection and to the group's eyes, changed at any time."""
    row = get_object_or_404(HandIn.objects.handed_in_by(request.user).standing(), pk=pk)
    row.may_be_projected = bool(request.POST.get("may_be_projected"))
    row.shared_with_group = bool(request.POST.get("shared_with_group"))
    row.save(update_fields=["may_be_projected", "shared_with_group"])
    messages.success(request, "Noted.")
    return redirect("course:came-back", pk)

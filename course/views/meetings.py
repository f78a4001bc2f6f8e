"""Meetings for people: the list, the calendar file and feed, who is coming, who came."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.core import signing
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from course.calendar import Entry, calendar_text
from course.models import Attendance, Group, Meeting

SALT = "meetings feed"


@login_required
@require_safe
def meetings(request, pk):
    """A group's meetings, those to come first; with one's own answer, or who is coming."""
    group = get_object_or_404(Group.objects.visible_to(request.user), pk=pk)
    teaches = Group.objects.taught_by(request.user).filter(pk=pk).exists()
    found = group.meetings.select_related("week").prefetch_related("attendances__user__person")
    token = signing.dumps([request.user.pk, group.pk], salt=SALT)
    rows, now = [(m, _answer(m, request.user)) for m in found], timezone.now()
    return render(
        request,
        "course/meetings.html",
        {
            "group": group,
            "teaches": teaches,
            "coming": [row for row in rows if row[0].ends_at >= now],
            "past": [row for row in reversed(rows) if row[0].ends_at < now],
            # a list: the page walks it once per meeting
            "enrolments": list(
                group.enrolments.filter(left_at=None).select_related("user__person")
            ),
            "feed": request.build_absolute_uri(reverse("course:feed", args=[token])),
        },
    )


@login_required
@require_safe
def sheet(request, pk):
    """One meeting on paper for whoever leads it: heads, safety, what to show, what to say."""
    meeting = get_object_or_404(
        Meeting.objects.filter(group__in=Group.objects.taught_by(request.user)).select_related(
            "group__course", "week"
        ),
        pk=pk,
    )
    week = meeting.week or meeting.group.course.weeks.filter(number=meeting.group.week_now).first()
    said = {a.user_id: a.coming for a in meeting.attendances.all()}
    enrolled = meeting.group.enrolments.filter(left_at=None).select_related("user__person")
    people = [(e.user, said.get(e.user_id)) for e in enrolled]
    exercises = week.exercises.prefetch_related("criteria") if week else []
    return render(
        request,
        "course/meeting_sheet.html",
        {"meeting": meeting, "week": week, "people": people, "exercises": exercises},
    )


def _answer(meeting, user):
    return next((a.coming for a in meeting.attendances.all() if a.user_id == user.pk), None)


@login_required
@require_POST
def coming(request, pk):
    """Say whether one is coming; said again, it replaces what was said."""
    meeting = get_object_or_404(
        Meeting.objects.filter(group__in=Group.objects.taken_by(request.user)), pk=pk
    )
    yes = request.POST.get("coming") == "yes"
    Attendance.objects.update_or_create(
        meeting=meeting, user=request.user, defaults={"coming": yes}
    )
    messages.success(request, "Noted: you are coming." if yes else "Noted: not this time.")
    return redirect("course:meetings", meeting.group_id)


@login_required
@require_POST
def came(request, pk):
    """The head count: who was there. Ticks replace what was ticked before."""
    meeting = get_object_or_404(
        Meeting.objects.filter(group__in=Group.objects.taught_by(request.user)), pk=pk
    )
    meeting.count_heads({int(k) for k in request.POST.getlist("here") if k.isdecimal()})
    messages.success(request, "The head count is kept.")
    return redirect("course:meetings", meeting.group_id)


@require_safe
def feed(request, token):
    """The calendar for a calendar program: the address itself says for whom it is."""
    try:
        user_pk, group_pk = signing.loads(token, salt=SALT)
    except (signing.BadSignature, ValueError, TypeError):
        raise Http404 from None
    user = get_object_or_404(User.objects.filter(is_active=True), pk=user_pk)
    group = get_object_or_404(Group.objects.visible_to(user), pk=group_pk)
    text = calendar_text(f"{group} meetings", [_entry(m) for m in _of(group)])
    return HttpResponse(
        text,
        content_type="text/calendar; charset=utf-8",
        headers={"Content-Disposition": 'inline; filename="meetings.ics"'},
    )


def _of(group):
    return group.meetings.select_related("week")


def _entry(meeting):
    said = [meeting.safety, meeting.tide and f"Tide: {meeting.tide}", meeting.notes]
    return Entry(
        uid=f"meeting-{meeting.pk}@working-distance",
        starts_at=meeting.starts_at,
        ends_at=meeting.ends_at,
        changed_at=timezone.now(),
        title=str(meeting.week or meeting.get_kind_display()),
        place=meeting.place,
        words="\n".join(words for words in said if words),
    )

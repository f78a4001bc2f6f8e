"""The student's first place: this week's brief, hand in, what came back."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import render
from django.views.decorators.http import require_safe

from course.models import Exercise, Group, HandIn


@login_required
@require_safe
def this_week(request):
    groups = Group.objects.taken_by(request.user).select_related("course")
    weeks = [(group, Exercise.objects.of_week_now(group)) for group in groups]
    came_back = HandIn.objects.handed_in_by(request.user).come_back()[:6]
    waiting = HandIn.objects.handed_in_by(request.user).standing().waiting_for_a_word()[:6]
    return render(
        request,
        "course/this_week.html",
        {"weeks": weeks, "came_back": came_back, "waiting": waiting},
    )

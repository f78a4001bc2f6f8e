"""The student's first place: what came back, this week's brief, hand in."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import render
from django.views.decorators.http import require_safe

from course.models import Exercise, Group, HandIn, Lesson

PRINTS_AT_ONCE = 6


@login_required
@require_safe
def this_week(request):
    groups = Group.objects.taken_by(request.user).select_related("course")
    mine = HandIn.objects.handed_in_by(request.user)
    came_back = mine.come_back().prefetch_related("places__frame")
    return render(
        request,
        "course/this_week.html",
        {
            "weeks": [
                (group, Exercise.objects.of_week_now(group), Lesson.objects.of_week_now(group))
                for group in groups
            ],
            "came_back": came_back[:PRINTS_AT_ONCE],
            "waiting": mine.standing().waiting_for_a_word()[:PRINTS_AT_ONCE],
        },
    )

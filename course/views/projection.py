"""Projection: one print alone in a dark room; names and numbers only when a key asks."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from course.marks_shown import marks_shown
from course.models import Group, HandIn

AT_MOST = 200


@login_required
@require_safe
def projection(request, pk):
    """The group's prints whose makers said yes, one at a time: ?at=3."""
    group = get_object_or_404(Group.objects.taught_by(request.user), pk=pk)
    rows = HandIn.objects.projectable_in(group).for_print().order_by("exercise", "handed_in_at")
    slides = [
        (row, frame)
        for row in rows[:AT_MOST]
        for frame in row.frames_in_order()
        if frame.is_readable
    ]
    at = request.GET.get("at", "")
    at = min(int(at), len(slides)) if at.isdecimal() and slides else 1
    row, frame = slides[at - 1] if slides else (None, None)
    return render(
        request,
        "course/projection.html",
        {
            "group": group,
            "hand_in": row,
            "frame": frame,
            "at": at,
            "of": len(slides),
            "marks": marks_shown(row.released_crits).get(frame.pk, []) if row else [],
        },
    )

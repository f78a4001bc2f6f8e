"""What the group as a whole has not yet grasped, and what it already has: counts, no names."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from course.models import Group, HandIn
from course.sheet import sheet_of


@login_required
@require_safe
def class_sheet(request, pk):
    group = get_object_or_404(Group.objects.taught_by(request.user).select_related("course"), pk=pk)
    week = request.GET.get("week") or str(group.week_now)
    rows = HandIn.objects.standing().filter(group=group)
    if week.isdecimal():
        rows = rows.filter(exercise__week__number=int(week))
    return render(
        request,
        "course/class_sheet.html",
        {
            "group": group,
            "sheet": sheet_of(rows),
            "weeks": group.course.weeks.order_by("number"),
            "week": week,
        },
    )

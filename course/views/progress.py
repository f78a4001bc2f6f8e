"""Weeks by topics: each student's own, and each student's for those who teach. Nobody is ranked."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from course.models import Enrolment, Group, HandIn
from course.progress_of import progress_of


@login_required
@require_safe
def own(request):
    """One's own weeks, a table for each group one is in."""
    groups = Group.objects.taken_by(request.user).select_related("course").order_by("-pk")
    HandIn.objects.handed_in_by(request.user).standing().judge()
    found = [(group, progress_of(request.user, group)) for group in groups]
    return render(request, "course/own_progress.html", {"found": found})


@login_required
@require_safe
def of_student(request, pk, enrolment_pk):
    """One student's weeks, for those who teach the group; the others are one step away by name."""
    group = get_object_or_404(Group.objects.taught_by(request.user).select_related("course"), pk=pk)
    enrolments = list(
        Enrolment.objects.filter(group=group, left_at=None).select_related("user__person")
    )
    enrolment = get_object_or_404(
        Enrolment.objects.select_related("user__person"), pk=enrolment_pk, group=group
    )
    HandIn.objects.filter(group=group, student=enrolment.user_id).standing().judge()
    return render(
        request,
        "course/progress_of_student.html",
        {
            "group": group,
            "shown": enrolment,
            "enrolments": sorted(enrolments, key=_name),
            "progress": progress_of(enrolment.user, group),
        },
    )


def _name(enrolment):
    person = getattr(enrolment.user, "person", None)
    return (person.display_name if person else enrolment.user.get_username()).casefold()

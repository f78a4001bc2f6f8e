"""The planner's first page, with the way to the field cards of one's groups beside it."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import render
from django.views.decorators.http import require_safe

from course.models import Group
from shootlog.views.planner import wish


@login_required
@require_safe
def plan(request):
    groups = Group.objects.visible_to(request.user).order_by("name")
    return render(request, "course/plan.html", wish(request) | {"groups": groups})

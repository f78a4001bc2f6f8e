"""Writing an exercise and its brief."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from course.brief_form import CriterionFormSet
from course.forms import ExerciseForm
from course.models import Course, Exercise, Week


@login_required
@require_http_methods(["GET", "POST"])
def edit_exercise(request, week_pk=None, pk=None):
    """An exercise and its brief on one page: what is asked in words, and in rows."""
    if week_pk:
        found = Exercise(
            week=get_object_or_404(
                Week.objects.filter(course__in=Course.objects.led_by(request.user)), pk=week_pk
            )
        )
    else:
        found = get_object_or_404(Exercise.objects.led_by(request.user), pk=pk)
    form = ExerciseForm(request.POST or None, instance=found)
    rows = CriterionFormSet(request.POST or None, instance=found, prefix="row")
    if request.method == "POST" and form.is_valid() and rows.is_valid():
        with transaction.atomic():
            rows.instance = form.save()
            rows.save()
        messages.success(request, "The exercise and its brief are kept.")
        return redirect("course:exercise", found.pk)
    return render(
        request, "course/edit_exercise.html", {"form": form, "rows": rows, "exercise": found}
    )

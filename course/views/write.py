"""Writing weeks, lessons and exercises: seen before they are kept, every former text kept."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import Resolver404, resolve, reverse
from django.views.decorators.http import require_http_methods, require_POST

from course.brief_form import CriterionFormSet
from course.forms import ExerciseForm, LessonForm, WeekForm
from course.markdown import left_out
from course.models import Course, Exercise, Lesson, Revision, Week
from course.reading_ease import measure

#: What each page of a week is, as the addresses name it.
PAGES = {"lesson": Lesson, "exercise": Exercise}


@login_required
@require_http_methods(["GET", "POST"])
def edit_week(request, course_pk=None, pk=None):
    found = _week(request.user, course_pk, pk)
    form = WeekForm(request.POST or None, instance=found)
    valid = form.is_valid()
    if valid and "preview" not in request.POST:
        _keep(found, request.user, form.save)
        return redirect(back_to_week(found))
    back = back_to_week(found) if found.pk else reverse("course:course", args=[found.course_id])
    context = {"form": form, "week": found, "back": back, "preview": valid}
    return render(request, "course/edit_week.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def edit_lesson(request, week_pk=None, pk=None):
    found = _page(request.user, "lesson", week_pk, pk)
    form = LessonForm(request.POST or None, instance=found)
    valid = form.is_valid()
    if valid and "preview" not in request.POST:
        _keep(found, request.user, form.save)
        _say_what_is_left_out(request, found)
        return redirect("course:lesson", found.pk)
    context = {"form": form, "lesson": found, "back": _back(found, "lesson")}
    if valid:
        context |= _seen_before(found) | {"measured": measure(found.text)}
    return render(request, "course/edit_lesson.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def edit_exercise(request, week_pk=None, pk=None):
    """An exercise and its brief on one page: what is asked in words, and in rows."""
    found = _page(request.user, "exercise", week_pk, pk)
    form = ExerciseForm(request.POST or None, instance=found)
    rows = CriterionFormSet(request.POST or None, instance=found, prefix="row")
    valid = request.method == "POST" and form.is_valid() and rows.is_valid()
    if valid and "preview" not in request.POST:
        _keep(found, request.user, lambda: _save_both(form, rows))
        messages.success(request, "The exercise and its brief are kept.")
        _say_what_is_left_out(request, found)
        return redirect("course:exercise", found.pk)
    context = {"form": form, "rows": rows, "exercise": found, "back": _back(found, "exercise")}
    if valid:
        context |= _seen_before(found) | {"asked": [row.said for row in rows.asked()]}
    return render(request, "course/edit_exercise.html", context)


@login_required
@require_POST
def move(request, kind, pk):
    """One place up or down within the week."""
    found = _page(request.user, kind, None, pk)
    found.move(up="up" in request.POST)
    return redirect(back_to_week(found.week))


def back_to_week(week):
    """The place of a week on its course's page."""
    return f"{reverse('course:course', args=[week.course_id])}#week-{week.pk}"


def _week(user, course_pk, pk):
    """The week to change, or the next one of a course this person leads."""
    led = Course.objects.led_by(user)
    if pk:
        return get_object_or_404(
            Week.objects.filter(course__in=led).select_related("course"), pk=pk
        )
    course = get_object_or_404(led, pk=course_pk)
    last = course.weeks.last()
    return Week(course=course, number=last.number + 1 if last else 1)


def _page(user, kind, week_pk, pk):
    """The page to change, or a new one in a week this person leads."""
    model = PAGES[kind]
    if week_pk:
        week = get_object_or_404(
            Week.objects.filter(course__in=Course.objects.led_by(user)), pk=week_pk
        )
        return model(week=week)
    return get_object_or_404(model.objects.led_by(user).select_related("week__course"), pk=pk)


def _save_both(form, rows):
    rows.instance = form.save()
    rows.save()


@transaction.atomic
def _keep(page, user, save):
    if page.pk:
        # as the table still has it: the form has put its values into `page` already
        Revision.objects.keep_first(type(page).objects.get(pk=page.pk))
    save()
    Revision.objects.keep(type(page).objects.get(pk=page.pk), by=user)


def _back(page, kind):
    if page.pk:
        return reverse(f"course:{kind}", args=[page.pk])
    return reverse("course:course", args=[page.week.course_id])


def _seen_before(page):
    return {"preview": True, "left_out": what_is_left_out(page)}


def what_is_left_out(page):
    """What of a page's text would not reach its readers, in sentences."""
    course_id = page.week.course_id
    pictures = set(page.week.course.pictures.values_list("name", flat=True))
    texts = [page.text]
    if isinstance(page, Exercise):
        texts += [page.cautions, page.indoor_twin, page.from_a_chair]
    said = [
        line
        for text in texts
        for line in left_out(text, pictures, lambda path: _leads(path, course_id))
    ]
    return list(dict.fromkeys(said))


def _leads(path, course_id):
    """Whether an address of this house opens a page for those in this course."""
    try:
        match = resolve(path.partition("#")[0].partition("?")[0])
    except Resolver404:
        return False
    model = PAGES.get(match.url_name)
    if model and match.namespace == "course":
        return model.objects.filter(pk=match.kwargs["pk"], week__course=course_id).exists()
    return True


def _say_what_is_left_out(request, page):
    for line in what_is_left_out(page):
        messages.warning(request, line)

"""Writing a course: weeks, lessons, exercises and their briefs."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.db.models import Prefetch
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from course.forms import CourseForm
from course.glossary import read_glossary
from course.markdown import with_words
from course.models import Course, Exercise, Group, Lesson, Person, Teaching, Week


def _may_teach(user):
    return Person.objects.filter(user=user, may_teach=True).exists()


def explained(text, course):
    """A page's text as HTML with its explained words, and those words with their meanings."""
    pictures_at = reverse("course:course", args=[course.pk])
    html, words = with_words(text, pictures_at, read_glossary(course.glossary))
    return mark_safe(html), words  # noqa: S308 - cleaned by course.markdown


def _edit(request, form, heading, back, act="Keep"):
    """Bind, save and go back, or show the form again with what was typed."""
    if form.is_valid():
        form.save()
        messages.success(request, "Kept.")
        return redirect(back)
    context = {"form": form, "heading": heading, "act": act, "back": back}
    return render(request, "_page_form.html", context)


@login_required
@require_safe
def courses(request):
    found = Course.objects.visible_to(request.user)
    return render(
        request, "course/courses.html", {"courses": found, "may_teach": _may_teach(request.user)}
    )


@login_required
@require_http_methods(["GET", "POST"])
def new_course(request):
    if not _may_teach(request.user):
        raise Http404
    form = CourseForm(request.POST or None)
    if form.is_valid():
        with transaction.atomic():
            course = form.save()
            Teaching.objects.create(course=course, user=request.user, role=Teaching.INSTRUCTOR)
        return redirect("course:course", course.pk)
    context = {"form": form, "heading": "A new course", "act": "Make the course"}
    return render(request, "_page_form.html", context | {"back": reverse("course:courses")})


@login_required
@require_safe
def course(request, pk):
    found = get_object_or_404(Course.objects.taught_by(request.user), pk=pk)
    weeks = found.weeks.prefetch_related("lessons", "exercises__criteria")
    leads = Course.objects.led_by(request.user).filter(pk=pk).exists()
    return render(request, "course/course.html", {"course": found, "weeks": weeks, "leads": leads})


@login_required
@require_safe
def read_course(request, pk):
    """The course for those who take it: every week they may enter, whichever they missed."""
    found = get_object_or_404(Course.objects.visible_to(request.user), pk=pk)
    weeks = found.weeks.prefetch_related(
        Prefetch("lessons", Lesson.objects.visible_to(request.user).in_place()),
        Prefetch("exercises", Exercise.objects.visible_to(request.user).in_place()),
    )
    groups = Group.objects.taken_by(request.user).filter(course=found)
    now = max((group.week_now for group in groups), default=0)
    open_weeks = [
        week for week in weeks if week.lessons.all() or week.exercises.all() or not week.hidden
    ]
    context = {"course": found, "weeks": open_weeks, "now": now}
    return render(request, "course/read_course.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def edit_course(request, pk):
    found = get_object_or_404(Course.objects.led_by(request.user), pk=pk)
    return _edit(
        request,
        CourseForm(request.POST or None, instance=found),
        found.title,
        reverse("course:course", args=[pk]),
    )


@login_required
@require_POST
def move_week(request, pk):
    led = Week.objects.filter(course__in=Course.objects.led_by(request.user))
    week = get_object_or_404(led, pk=pk)
    week.move(up="up" in request.POST)
    return redirect("course:course", week.course_id)


@login_required
@require_safe
def lesson(request, pk):
    found = get_object_or_404(
        Lesson.objects.visible_to(request.user).select_related("week__course"), pk=pk
    )
    leads = Course.objects.led_by(request.user).filter(pk=found.week.course_id).exists()
    text, words = explained(found.text, found.week.course)
    context = {"lesson": found, "leads": leads, "text": text, "words": words}
    return render(request, "course/lesson.html", context)


@login_required
@require_safe
def topic(request, slug):
    """From a finding's topic to the lesson that teaches it, in a course of this person's."""
    found = Lesson.objects.visible_to(request.user).teaching(slug)
    if found is None:
        return render(request, "course/topic_later.html", {"slug": slug.replace("-", " ")})
    return redirect("course:lesson", found.pk)


@login_required
@require_safe
def exercise(request, pk):
    found = get_object_or_404(
        Exercise.objects.visible_to(request.user)
        .select_related("week__course")
        .prefetch_related("criteria"),
        pk=pk,
    )
    leads = Course.objects.led_by(request.user).filter(pk=found.week.course_id).exists()
    learns = Course.objects.taken_by(request.user).filter(pk=found.week.course_id).exists()
    text, words = explained(found.text, found.week.course)
    lessons = Lesson.objects.visible_to(request.user).filter(week=found.week).in_place()
    context = {"exercise": found, "leads": leads, "learns": learns, "text": text, "words": words}
    context["lessons"] = lessons
    return render(request, "course/exercise.html", context)

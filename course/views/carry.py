"""A course carried in and out, its own pictures, and a copy for a new group."""

from pathlib import Path

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from course import carry
from course.archive import read_archive
from course.course_text import ArchiveTrouble
from course.models import Course, CoursePicture, Person
from course.six_weeks import in_six_weeks

SHIPPED = Path(settings.BASE_DIR) / "fixtures" / "demo" / "course"


class ArchiveForm(forms.Form):
    archive = forms.FileField(
        label="A course archive", help_text="A zip made by “Take the course with you”."
    )


def _may_teach(user):
    return Person.objects.filter(user=user, may_teach=True).exists()


@login_required
@require_POST
def load_ours(request):
    """The shipped course, to bend to one's own voice, in eight weeks or in six."""
    if not _may_teach(request.user):
        raise Http404
    text = read_archive(carry.files_of_folder(SHIPPED))
    if request.POST.get("weeks") == "6":
        text = in_six_weeks(text)
    course = carry.load(text, owner=request.user)
    messages.success(request, "Here is a whole course. Every word of it is yours to change.")
    return redirect("course:course", course.pk)


@login_required
@require_http_methods(["GET", "POST"])
def bring_in(request):
    """Load an archive; a foreign or damaged one changes nothing and says why."""
    if not _may_teach(request.user):
        raise Http404
    form = ArchiveForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        try:
            files = carry.files_of_zip(form.cleaned_data["archive"])
            course = carry.load_files(files, owner=request.user)
        except ArchiveTrouble as trouble:
            form.add_error("archive", f"Nothing was changed. {trouble}")
        else:
            messages.success(request, f"“{course}” is here.")
            return redirect("course:course", course.pk)
    context = {"form": form, "heading": "Bring in a course", "act": "Bring it in"}
    return render(request, "_page_form.html", context | {"back": reverse("course:courses")})


@login_required
@require_safe
def take_along(request, pk):
    course = get_object_or_404(Course.objects.led_by(request.user), pk=pk)
    name = slugify(course.title) or "course"
    return HttpResponse(
        carry.to_zip(carry.as_text(course)),
        content_type="application/zip",
        headers={"Content-Disposition": f'attachment; filename="{name}.zip"'},
    )


@login_required
@require_POST
def copy(request, pk):
    course = get_object_or_404(Course.objects.led_by(request.user), pk=pk)
    twin = carry.load(carry.as_text(course), owner=request.user)
    messages.success(request, "This is the copy. Changes here leave the first one alone.")
    return redirect("course:edit-course", twin.pk)


@login_required
@require_safe
def picture(request, pk, name):
    course = get_object_or_404(Course.objects.visible_to(request.user), pk=pk)
    found = get_object_or_404(CoursePicture, course=course, name=f"pictures/{name}")
    return HttpResponse(
        bytes(found.content),
        content_type=found.content_type,
        headers={
            # A drawing may carry script; shown by itself it may do nothing but draw.
            "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox",
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "private, max-age=3600",
        },
    )

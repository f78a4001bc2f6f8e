"""The drawings and photographs a course's texts show: put in, looked at, taken out."""

from pathlib import PurePath

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST

from course.models import Course, CoursePicture

LARGEST_BYTES = 2_000_000
MOST_PICTURES = 200
#: How each kind of file begins; a name alone says nothing.
BEGINS = {"png": b"\x89PNG\r\n\x1a\n", "jpg": b"\xff\xd8\xff"}


class PictureForm(forms.Form):
    picture = forms.FileField(
        label="A picture",
        help_text="A drawing (SVG) or a photograph (JPEG, PNG), up to 2 MB. The same name again "
        "puts it in the place of the old one.",
    )

    def clean_picture(self):
        sent = self.cleaned_data["picture"]
        if sent.size > LARGEST_BYTES:
            raise forms.ValidationError(f"{sent.name} has over 2 MB. Make it smaller first.")
        self.content = sent.read()
        ending = kind_of(self.content)
        if ending is None:
            raise forms.ValidationError(f"{sent.name} is no SVG, JPEG or PNG.")
        stem = slugify(PurePath(sent.name).stem)[:60].strip("-_").replace("_", "-") or "picture"
        self.name = f"pictures/{stem}.{ending}"
        return sent


def kind_of(content):
    """The ending a picture's own bytes ask for, or None."""
    for ending, begins in BEGINS.items():
        if content.startswith(begins):
            return ending
    return "svg" if b"<svg" in content[:2000] and b"\0" not in content[:2000] else None


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def pictures(request, pk):
    course = get_object_or_404(Course.objects.led_by(request.user), pk=pk)
    form = PictureForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        if course.pictures.count() >= MOST_PICTURES:
            messages.warning(request, f"{MOST_PICTURES} pictures are here: take one out first.")
        else:
            CoursePicture.objects.update_or_create(
                course=course, name=form.name, defaults={"content": form.content}
            )
            messages.success(request, f"It is here. In a text: ![what it shows]({form.name})")
        return redirect("course:pictures", pk)
    found = course.pictures.defer("content").order_by("name")
    context = {"course": course, "form": form, "pictures": [(p, _file(p)) for p in found]}
    return render(request, "course/pictures.html", context)


@login_required
@require_POST
def take_out(request, pk, picture_pk):
    course = get_object_or_404(Course.objects.led_by(request.user), pk=pk)
    get_object_or_404(course.pictures, pk=picture_pk).delete()
    messages.success(request, "Taken out. Texts that show it now show its words alone.")
    return redirect("course:pictures", pk)


def _file(picture):
    return picture.name.removeprefix("pictures/")

"""What others may know of a frame: a place in vague words, a rare subject, people in it."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from shootlog.models import Frame

LEAD = (
    "Only you can fetch the original with what the camera wrote into it. Pictures others see "
    "carry no position, no serial number and no date inside."
)


class WhoSeesForm(forms.ModelForm):
    class Meta:
        model = Frame
        fields = ["place_words", "sensitive_species", "people_in_it"]
        labels = {
            "place_words": "Place, in vague words",
            "sensitive_species": "A rare or easily disturbed subject",
            "people_in_it": "People in the picture",
        }
        help_texts = {
            "place_words": "Such as: a wood west of the town. No co-ordinates, no nest, no gate.",
            "sensitive_species": "Others then see neither place nor date of this frame.",
            "people_in_it": "A frame that shows somebody who was not asked is seen by you and your "
            "instructor only. For children, ask those who look after them.",
        }

    def clean_place_words(self):
        words = self.cleaned_data["place_words"].strip()
        if sum(letter.isdigit() for letter in words) >= 6:
            raise forms.ValidationError(
                "This looks like co-ordinates. Say it so that nobody could walk there: a wood west "
                "of the town."
            )
        return words


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def who_sees(request, pk):
    frame = get_object_or_404(Frame.objects.owned_by(request.user), pk=pk)
    form = WhoSeesForm(request.POST or None, instance=frame)
    back = reverse("shootlog:frame", args=[pk])
    if form.is_valid():
        frame.save(update_fields=WhoSeesForm.Meta.fields)
        messages.success(request, "Noted.")
        return redirect(back)
    context = {
        "form": form,
        "heading": "What others may know",
        "lead": LEAD,
        "act": "Note it",
        "back": back,
    }
    return render(request, "_page_form.html", context)

"""What a student says when handing in, checked."""

from django import forms

from course.models import HandIn
from shootlog.forms import ManyFilesField
from shootlog.models import Frame

OFFERED = 48  # the newest frames to choose from
WELFARE = (
    ("nothing_moved", "Nothing was moved, cleared or broken for the picture."),
    ("left_as_found", "The animal or plant was left as I found it."),
    ("site_rules", "I kept to the site's own rules and paths."),
)


class HandInForm(forms.ModelForm):
    frames = forms.ModelMultipleChoiceField(
        queryset=Frame.objects.none(), required=False, widget=forms.CheckboxSelectMultiple
    )
    files = ManyFilesField(  # type: ignore[assignment]
        label="Or send files now", required=False
    )

    class Meta:
        model = HandIn
        fields = ["wanted", "unsure", "may_be_projected", "shared_with_group"]
        labels = {
            "wanted": "I wanted …",
            "unsure": "I'm unsure about …",
            "may_be_projected": "May be shown to the group on the projection evening",
            "shared_with_group": "The group may see it in the app too",
        }
        help_texts = {
            "wanted": "One line: what the picture should show or feel like.",
            "unsure": "One line: what you would like looked at first.",
        }

    def __init__(self, *args, exercise, student, **kwargs):
        super().__init__(*args, **kwargs)
        self.exercise = exercise
        self.student = student
        self.fields["frames"].queryset = Frame.objects.owned_by(student)
        if exercise.in_the_field:
            for key, words in WELFARE:
                self.fields[key] = forms.BooleanField(label=words, required=False)
        if exercise.self_check:
            for criterion in exercise.criteria.all():
                self.fields[f"self_{criterion.pk}"] = forms.BooleanField(
                    label=criterion.in_words, required=False
                )

    def offered(self):
        """The student's newest frames, to tick."""
        return Frame.objects.for_contact_sheet(self.student)[:OFFERED]

    def clean(self):
        values = super().clean()
        if not values.get("frames") and not values.get("files"):
            self.add_error("frames", "Tick a frame from your log, or send a file: one is enough.")
        return values

    def said(self):
        """The columns of the hand-in that come from this form."""
        values = self.cleaned_data
        said = {name: values[name] for name in self.Meta.fields}
        said["welfare"] = {key: values[key] for key, _ in WELFARE if key in values}
        said["self_checked"] = {
            key.removeprefix("self_"): value
            for key, value in values.items()
            if key.startswith("self_")
        }
        return said

"""What a student says when handing in, checked."""

from django import forms

from course.models import HandIn
from shootlog.forms import ManyFilesField
from shootlog.models import Frame, KeptPlan
from shootlog.plan_forms import PlanForm

STACKED = ("stack", "landscape")
OFFERED = 48  # the newest frames to choose from
WELFARE = (
    ("nothing_moved", "Nothing was moved, cleared or broken for the picture."),
    ("left_as_found", "The animal or plant was left as I found it."),
    ("site_rules", "I kept to the site's own rules and paths."),
)


class LookFirstForm(forms.Form):
    """The student's own eye before the numbers: which rows are met, and what is to be seen."""

    def __init__(self, *args, exercise, **kwargs):
        super().__init__(*args, **kwargs)
        for criterion in exercise.criteria.all():
            self.fields[f"self_{criterion.pk}"] = forms.BooleanField(
                label=criterion.in_words, required=False
            )
        self.fields["self_seen"] = forms.CharField(
            label="What do you see?",
            required=False,
            max_length=300,
            help_text="Where it is sharp, what the light does, what you would change.",
        )


def looked_first(values):
    """The ticked criteria and the words of a look-first form's cleaned values."""
    ticked = [key for key, value in values.items() if key.startswith("self_") and value is True]
    return {
        "met": [int(key.removeprefix("self_")) for key in ticked],
        "seen": values.get("self_seen", ""),
    }


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
        if exercise.kind in STACKED and KeptPlan.objects.owned_by(student).exists():
            plan = PlanForm(owner=student, required=False).fields["plan"]
            plan.empty_label = "none"
            self.fields["plan"] = plan
        if exercise.in_the_field:
            for key, words in WELFARE:
                self.fields[key] = forms.BooleanField(label=words, required=False)
        if exercise.self_check:
            self.fields |= LookFirstForm(exercise=exercise).fields

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
        return said

    def looked_first(self):
        """What was seen before handing in; nothing where the page was left open."""
        return looked_first(self.cleaned_data)

"""What an instructor says on the review pages, checked."""

import json

from django import forms
from django.contrib.auth.models import User

from course.marks import NotAMark, annotations
from course.models import Crit, Exercise, Group, HandIn, Phrase
from course.phrases import VERDICTS, numbers_of, strange_numbers
from shootlog.findings import all_findings
from shootlog.series.outcomes import TITLE as SERIES_TITLE


class CritForm(forms.ModelForm):
    """Words, the one thing to change, and the marks; `revision` says which page they are from."""

    revision = forms.IntegerField(min_value=0, widget=forms.HiddenInput)
    marks = forms.CharField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Crit
        fields = ["words", "one_thing", "voice_caption"]
        widgets = {
            "words": forms.Textarea(attrs={"rows": 4}),
            "voice_caption": forms.Textarea(attrs={"rows": 2}),
        }

    def __init__(self, *args, sources, **kwargs):
        super().__init__(*args, **kwargs)
        self.sources = sources
        for field in self.fields.values():
            field.required = field is self.fields["revision"]

    def clean_marks(self):
        """Marks come in the page's short form and are kept as annotations."""
        if "marks" not in self.data:
            return None
        try:
            marks = json.loads(self.cleaned_data["marks"] or "[]")
            if not isinstance(marks, list):
                raise NotAMark("The marks could not be read.")
            return annotations(marks, sources=self.sources)
        except (json.JSONDecodeError, NotAMark) as trouble:
            raise forms.ValidationError(str(trouble)) from None

    def said(self):
        """Return only what the page sent: an absent field is not an emptied one."""
        said = {k: self.cleaned_data[k] for k in self.Meta.fields if k in self.data}
        if self.cleaned_data.get("marks") is not None:
            said["marks"] = self.cleaned_data["marks"]
        return said


class PersonField(forms.ModelChoiceField):
    def label_from_instance(self, user):
        person = getattr(user, "person", None)
        return person.display_name if person else user.get_username()


class TableForm(forms.Form):
    """The filters of the instructor's table."""

    group = forms.ModelChoiceField(Group.objects.none(), required=False, empty_label="every group")
    exercise = forms.ModelChoiceField(
        Exercise.objects.none(), required=False, empty_label="every exercise"
    )
    student = PersonField(User.objects.none(), required=False, empty_label="everybody")
    finding = forms.ChoiceField(required=False)
    nothing_said = forms.BooleanField(label="Nothing said yet", required=False)

    def __init__(self, *args, user, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["group"].queryset = Group.objects.taught_by(user)
        self.fields["exercise"].queryset = Exercise.objects.taught_by(user)
        waiting = HandIn.objects.to_look_at(user).values("student")
        self.fields["student"].queryset = (
            User.objects.filter(pk__in=waiting).select_related("person").order_by("username")
        )
        named = sorted((finding.title, finding.slug) for finding in all_findings().values())
        of_series = sorted((title.capitalize(), slug) for slug, title in SERIES_TITLE.items())
        self.fields["finding"].choices = [
            ("", "every finding"),
            ("Of a frame", [(slug, title) for title, slug in named]),
            ("Of a series", [(slug, title) for title, slug in of_series]),
        ]

    def chosen(self):
        return {k: v for k, v in self.cleaned_data.items() if v} if self.is_valid() else {}


def abouts():
    """What a phrase may be about: anything, a finding, what the brief answered."""
    findings = sorted((one.title, slug) for slug, one in all_findings().items())
    return [
        ("any", "any print"),
        ("A finding", [(slug, title) for title, slug in findings]),
        ("A row of the brief that is", list(VERDICTS.items())),
    ]


class PhraseForm(forms.ModelForm):
    about = forms.ChoiceField(label="For", choices=abouts)

    class Meta:
        model = Phrase
        fields = ["about", "words"]
        labels = {"words": "Words"}
        help_texts = {
            "words": "A number of the print goes in curly brackets and is filled in, such as "
            "{effective}. The list below says which there are."
        }
        widgets = {"words": forms.Textarea(attrs={"rows": 3})}

    def clean(self):
        values = super().clean()
        about, words = values.get("about", ""), values.get("words", "")
        if strange := strange_numbers(about, words):
            known = ", ".join(f"{{{name}}}" for name in numbers_of(about)) or "none"
            self.add_error(
                "words", f"Nothing fills in {{{strange[0]}}} there. The numbers are: {known}."
            )
        return values

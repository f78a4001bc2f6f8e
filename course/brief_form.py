"""The rows of a brief as a form. What can be asked comes from the log's own quantities."""

from django import forms
from django.forms import BaseInlineFormSet, inlineformset_factory

from course.brief_rows import NEEDS, BriefError, brief_quantities, check
from course.brief_rows import Criterion as Row
from course.models import Criterion, Exercise


def _label(kind):
    label = f"{kind.label}, {kind.unit}" if kind.unit else kind.label
    return label[:1].upper() + label[1:]


class CriterionForm(forms.ModelForm):
    asks = forms.ChoiceField(label="Asks for", required=False)

    class Meta:
        model = Criterion
        fields = ["asks", "low", "high", "words", "position"]
        labels = {"low": "At least", "high": "At most", "words": "In your words (optional)"}
        widgets = {"position": forms.HiddenInput}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["position"].required = False
        self.fields["asks"].choices = [
            ("", "nothing"),
            (
                "A quantity between two limits",
                [(f"q:{name}", _label(kind)) for name, kind in brief_quantities().items()],
            ),
            ("A need", [(f"n:{need}", need) for need in NEEDS]),
        ]
        if self.instance.pk:
            kind = "q" if self.instance.kind == "quantity" else "n"
            self.initial["asks"] = f"{kind}:{self.instance.quantity or self.instance.need}"

    def clean(self):
        values = super().clean()
        kind, _, what = values.get("asks", "").partition(":")
        if not what:
            if any(values.get(k) not in (None, "") for k in ("low", "high", "words")):
                self.add_error("asks", "Say what this row asks for, or empty it.")
            return values
        self.instance.kind = "quantity" if kind == "q" else "need"
        self.instance.quantity = what if kind == "q" else ""
        self.instance.need = what if kind == "n" else ""
        return values

    def has_changed(self):
        """A row that asks for nothing is no row."""
        return bool(self.data.get(self.add_prefix("asks"))) if self.is_bound else False


class BriefFormSet(BaseInlineFormSet):
    def clean(self):
        """A brief that contradicts itself is refused with the reason."""
        super().clean()
        if any(self.errors):
            return
        try:
            check(self.asked())
        except BriefError as trouble:
            raise forms.ValidationError(str(trouble)) from trouble

    def asked(self):
        """The rows as they were typed, whether kept or not."""
        return [
            Row(
                kind=form.instance.kind,
                quantity=form.instance.quantity,
                need=form.instance.need,
                low=form.cleaned_data.get("low"),
                high=form.cleaned_data.get("high"),
                words=form.cleaned_data.get("words", ""),
            )
            for form in self.forms
            if form.cleaned_data.get("asks") and not form.cleaned_data.get("DELETE")
        ]


CriterionFormSet = inlineformset_factory(
    Exercise, Criterion, form=CriterionForm, formset=BriefFormSet, extra=4, can_delete=True
)

"""What people type into the planning pages, checked. Questions are asked by address (GET)."""

import math

from django import forms
from django.db import models

from shootlog.models import KeptPlan, KeptSetUp, KitItem, Series
from shootlog.plain_number import PlainNumber
from shootlog.what_if import Asked, what_if

SENSORS = [
    ("36x24", "full frame, 36 × 24 mm"),
    ("23.5x15.6", "APS-C, 23.5 × 15.6 mm"),
    ("22.3x14.9", "APS-C, 22.3 × 14.9 mm"),
    ("17.3x13", "Four Thirds, 17.3 × 13 mm"),
    ("13.2x8.8", "one inch, 13.2 × 8.8 mm"),
    ("43.8x32.9", "medium format, 43.8 × 32.9 mm"),
    ("9.8x7.3", "a large phone sensor, 9.8 × 7.3 mm"),
]
TOO_LARGE = 100_000


PUPIL = "The opening seen from behind, divided by that seen from the front. Empty if not measured."


def number(label, low, high, *, help_text="", required=True, step="any", initial=None):
    return forms.FloatField(
        label=label,
        min_value=low,
        max_value=high,
        required=required,
        initial=initial,
        help_text=help_text,
        widget=PlainNumber(attrs={"step": step, "inputmode": "decimal"}),
        error_messages={
            "min_value": f"{label}: give {low:g} or more.",
            "max_value": f"{label}: give {high:g} or less.",
            "invalid": f"{label}: a number is needed, such as {low + 1:g} or {low + 1.5:g}.",
            "required": f"{label} is missing.",
        },
    )


class WishForm(forms.Form):
    """I want this wide, this deep, no closer than that."""

    width_mm = number("This wide, mm", 0.1, TOO_LARGE, help_text="Across the long side.")
    depth_mm = number("This deep, mm", 0.01, TOO_LARGE, help_text="Front to back, sharp.")
    closest_mm = number(
        "No closer than, mm", 0, TOO_LARGE, help_text="Empty where it does not matter.",
        required=False,
    )  # fmt: skip


class WhatIfForm(forms.Form):
    """One set-up and one subject; the same names as `what_if.Asked`."""

    focal_length_mm = number("Focal length, mm", 1, 3000)
    lens_magnification = number(
        "Ratio of the lens alone", 0, 30, help_text="1 for 1:1, 0.5 for 1:2, 0 at infinity.",
        required=False,
    )  # fmt: skip
    f_number = number("f-number on the ring", 0.7, 64)
    tube_mm = number("Tubes, mm", 0, 1000, required=False)
    close_up_dioptre = number("Close-up lens, dioptres", 0, 50, required=False)
    converter = number("Converter", 1, 4, required=False)
    sensor_width_mm = number("Sensor width, mm", 1, 120, help_text="36, 23.5, 22.3 or 17.3.")
    sensor_height_mm = number("Sensor height, mm", 1, 120, required=False)
    subject_depth_mm = number("Depth of the subject, mm", 0.01, TOO_LARGE)
    overlap = number("Overlap of slices", 0, 0.9, help_text="0.25 is a quarter.", required=False)
    pupil_ratio = number("Pupil ratio", 0.05, 20, help_text=PUPIL, required=False)
    rim_mm = number(
        "Lens plane to rim, mm", -1000, 1000, required=False,
        help_text="Empty where nobody knows; a lens in your kit that was measured brings it.",
    )  # fmt: skip

    #: what an empty place means
    EMPTY = {
        "lens_magnification": 0.0,
        "tube_mm": 0.0,
        "close_up_dioptre": 0.0,
        "converter": 1.0,
        "overlap": 0.25,
        "pupil_ratio": 1.0,
    }

    def clean(self):
        values = super().clean()
        for key, empty in self.EMPTY.items():
            if key in values and values[key] is None:
                values[key] = empty
        if not self.errors and not any(
            values[key] for key in ("lens_magnification", "tube_mm", "close_up_dioptre")
        ):
            self.add_error(
                "lens_magnification",
                "A lens at infinity frames nothing near. Give the ratio it reaches, a tube or a "
                "close-up lens.",
            )
        if not self.errors:
            try:
                what_if(self.asked)
            except ValueError as trouble:
                self.add_error(None, str(trouble))
        return values

    @property
    def asked(self):
        return Asked(**{key: self.cleaned_data[key] for key in Asked.__dataclass_fields__})


class StackForm(WhatIfForm):
    """A stack close up: the set-up, how it is stepped, and the light."""

    way = forms.ChoiceField(
        label="Stepped by", choices=[("rail", "rail"), ("ring", "focus ring or in camera")]
    )
    metered_s = forms.CharField(
        label="Time a hand meter gives, s",
        required=False,
        help_text="As 1/60 or 0.5, for the ring's f-number. Empty when the camera meters.",
    )
    pause_s = number("Wait between frames, s", 0, 120, required=False)

    def clean_metered_s(self):
        text = self.cleaned_data["metered_s"].strip().removesuffix("s").strip()
        if not text:
            return None
        above, _, below = text.partition("/")
        try:
            seconds = float(above) / (float(below) if below else 1.0)
        except (ValueError, ZeroDivisionError):
            raise forms.ValidationError("Write the time as 1/60 or as 0.5.") from None
        if not (math.isfinite(seconds) and 1e-5 <= seconds <= 3600):
            raise forms.ValidationError("Give a time between 1/100000 s and an hour.")
        return seconds

    def clean_pause_s(self):
        pause = self.cleaned_data["pause_s"]
        return 2.0 if pause is None else pause


class LandscapeForm(forms.Form):
    """From the stone at one's feet to the horizon in few frames."""

    focal_length_mm = number("Focal length, mm", 1, 3000)
    f_number = number("f-number", 0.7, 64)
    sensor_width_mm = number("Sensor width, mm", 1, 120, help_text="36, 23.5, 22.3 or 17.3.")
    near_m = number("Nearest thing, m", 0.05, 10_000, help_text="From the lens.")
    far_m = number(
        "Farthest thing, m", 0.05, 100_000, help_text="Empty for the horizon.", required=False
    )
    overlap = number("Overlap", 0, 0.9, help_text="0.1 is a tenth.", required=False)

    def clean_overlap(self):
        overlap = self.cleaned_data["overlap"]
        return 0.1 if overlap is None else overlap

    def clean(self):
        values = super().clean()
        near, far = values.get("near_m"), values.get("far_m")
        if near and far and far < near:
            self.add_error("far_m", f"The farthest thing cannot be nearer than {near:g} m.")
        focal = values.get("focal_length_mm")
        if near and focal and near * 1000 < 5 * focal:
            self.add_error(
                "near_m",
                f"{near:g} m is close-up work for {focal:g} mm: plan it as a rail or ring stack.",
            )
        return values


class ChooseSetUpForm(forms.Form):
    """Fill a form from a set-up that is kept."""

    def __init__(self, *args, owner, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["set_up"] = forms.ModelChoiceField(
            label="Fill in from a set-up",
            queryset=KeptSetUp.objects.offered_to(owner),
            required=False,
            empty_label="choose",
        )


class BesideForm(forms.Form):
    """Which series was shot from a plan."""

    def __init__(self, *args, owner, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["series"] = forms.ModelChoiceField(
            label="The series shot from it",
            queryset=Series.objects.owned_by(owner)
            .filter(kind__in=[Series.Kind.STACK, Series.Kind.LANDSCAPE])
            .order_by("-made_at"),
            empty_label="choose",
        )


class PlanForm(forms.Form):
    """Which kept plan a series was shot from; those no series lies beside come first."""

    def __init__(self, *args, owner, required=True, **kwargs):
        super().__init__(*args, **kwargs)
        plans = KeptPlan.objects.owned_by(owner).order_by(
            models.F("series").asc(nulls_first=True), "-made_at"
        )
        self.fields["plan"] = forms.ModelChoiceField(
            label="The plan you counted", queryset=plans, empty_label="choose", required=required
        )


# --- the kit ---


class KitForm(forms.ModelForm):
    """One thing more in the bag; each kind asks for its own numbers only."""

    kind = ""
    title = ""

    class Meta:
        model = KitItem
        fields = ["name"]

    def save(self, commit=True):
        self.instance.kind = self.kind
        return super().save(commit)


class BodyForm(KitForm):
    kind, title = "body", "A body"
    name = forms.CharField(label="Body", max_length=120)
    sensor = forms.ChoiceField(label="Sensor", choices=SENSORS)

    def save(self, commit=True):
        sides = self.cleaned_data["sensor"].split("x")
        self.instance.sensor_width_mm, self.instance.sensor_height_mm = map(float, sides)
        return super().save(commit)


class LensForm(KitForm):
    kind, title = "lens", "A lens"
    name = forms.CharField(
        label="Lens", max_length=120, help_text="As the camera writes it: some are known by name."
    )
    focal_length_mm = number("Focal length, mm", 1, 3000, required=False)
    largest_ratio = number(
        "Largest ratio by itself", 0.001, 30, required=False,
        help_text="1 for 1:1, 0.5 for 1:2, 0.15 for most others. Printed with its data.",
    )  # fmt: skip
    widest_f_number = number("Widest f-number", 0.7, 32, required=False)
    free_at_closest_mm = number(
        "Free in front at that ratio, mm", 0.5, 5000, required=False,
        help_text="Measured once: focus at its nearest, then a ruler from the rim to what is "
        "sharp. With it, plans say the gap itself.",
    )  # fmt: skip
    pupil_ratio = number("Pupil ratio", 0.05, 20, help_text=PUPIL, required=False)

    class Meta(KitForm.Meta):
        fields = [
            *("name", "focal_length_mm", "largest_ratio", "widest_f_number"),
            *("free_at_closest_mm", "pupil_ratio"),
        ]

    def clean(self):
        values = super().clean()
        for key in self.Meta.fields:
            setattr(self.instance, key, values.get(key) if key != "name" else values.get(key, ""))
        self.instance.fill_from_table()
        for key, words in [
            ("focal_length_mm", "The focal length of this lens is not in the table: give it."),
            ("largest_ratio", "How large this lens draws is not in the table: give its ratio."),
        ]:
            if key not in self.errors and getattr(self.instance, key) is None:
                self.add_error(key, words)
            elif key in values:
                values[key] = getattr(self.instance, key)
        self._pupil_fits(values.get("pupil_ratio"))
        return values

    def _pupil_fits(self, ratio):
        """The rule N (1 + m / p) is that of a lens that moves as a whole."""
        near, far = self.instance.closest_focal_length_mm, self.instance.focal_length_mm
        if ratio and ratio != 1.0 and near and near != far:
            self.add_error(
                "pupil_ratio",
                f"This lens shrinks from {far:g} to {near:g} mm close up; a pupil ratio says "
                "nothing about it. Leave it empty.",
            )


class TubeForm(KitForm):
    kind, title = "tube", "A tube"
    length_mm = number("Length, mm", 1, 500, help_text="One at a time; the app adds them up.")

    class Meta(KitForm.Meta):
        fields = ["length_mm"]


class CloseUpForm(KitForm):
    kind, title = "close-up", "A close-up lens"
    power_dioptre = number(
        "Power, dioptres",
        0.1,
        50,
        help_text="+4 is 4. Marked with a focal length: 1000 divided by it.",
    )

    class Meta(KitForm.Meta):
        fields = ["power_dioptre"]


class ConverterForm(KitForm):
    kind, title = "converter", "A converter"
    factor = number("Factor", 1.1, 4, help_text="1.4 or 2.")

    class Meta(KitForm.Meta):
        fields = ["factor"]


KIT_FORMS = {form.kind: form for form in (BodyForm, LensForm, TubeForm, CloseUpForm, ConverterForm)}

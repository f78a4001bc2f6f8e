"""What people type into the log's pages, checked."""

from django import forms

from shootlog.models import Frame, KeptSetUp
from shootlog.set_up import SUPPORTS, SetUpError
from shootlog.set_up_groups import SetUpField
from shootlog.sharp_place import PARTS, around, part, tap_size_px

SUPPORT_WORDS = {
    "tripod": "tripod",
    "hand": "by hand",
    "rail": "rail on a tripod",
    "bag": "bean bag or the ground",
}


class ManyFilesInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """Many files from one picker; each is taken on its own later."""

    widget = ManyFilesInput

    def clean(self, data, initial=None):
        files = data if isinstance(data, list | tuple) else [data]
        clean = super().clean
        return [file for file in (clean(file, initial) for file in files or [None]) if file]


class SendForm(forms.Form):
    files = ManyFilesField(  # type: ignore[assignment]
        label="Files as they came out of the camera",
        allow_empty_file=True,  # refused by name, and the others are taken
        error_messages={
            "required": "Choose one file or more, then send.",
        },
    )
    set_up = SetUpField(
        label="Set-up", queryset=KeptSetUp.objects.none(), required=False, empty_label="not told"
    )

    def __init__(self, *args, owner, **kwargs):
        super().__init__(*args, **kwargs)
        offered = KeptSetUp.objects.offered_to(owner)
        self.fields["set_up"].queryset = offered
        self.fields["files"].required = True


class MarkForm(forms.ModelForm):
    """The owner's own mark on the contact sheet."""

    class Meta:
        model = Frame
        fields = ["own_mark"]


class TellForm(forms.ModelForm):
    """What no camera writes down: asked once, and only where it settles something."""

    set_up = SetUpField(
        label="Set-up", queryset=KeptSetUp.objects.none(), required=False, empty_label="not told"
    )
    support = forms.ChoiceField(
        label="Camera held by",
        required=False,
        choices=[("", "not told"), *((s, SUPPORT_WORDS[s]) for s in SUPPORTS)],
    )
    subject_depth_mm = forms.FloatField(
        label="Depth of the subject, mm",
        required=False,
        min_value=0.001,
        max_value=100000,
        help_text="From the nearest to the farthest point that should be sharp.",
    )

    class Meta:
        model = Frame
        fields = ["set_up", "note"]
        labels = {"note": "Field note: what the camera cannot know"}
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}

    field_order = ["set_up", "support", "subject_depth_mm", "note"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["set_up"].queryset = KeptSetUp.objects.offered_to(self.instance.owner)
        for key in ("support", "subject_depth_mm"):
            self.initial.setdefault(key, self.instance.told.get(key))
        if depth_mm := self.initial["subject_depth_mm"]:
            self.initial["subject_depth_mm"] = float(f"{depth_mm:.4g}")

    def save(self, commit=True):
        told = {key: self.cleaned_data[key] for key in ("support", "subject_depth_mm")}
        kept = {k: v for k, v in self.instance.told.items() if k not in told}
        self.instance.told = kept | {k: v for k, v in told.items() if v not in ("", None)}
        return super().save(commit)


class SharpPlaceForm(forms.Form):
    """Where it should be sharp: a tap on the picture, or a part of it in words.

    A picture that is a button sends where it was pressed as `at.x` and `at.y`, in pixels of the
    size it is shown at; pressed by a key it sends 0 and 0, which no finger hits.
    """

    NOWHERE = "nowhere"

    part = forms.ChoiceField(
        label="Or say which part",
        required=False,
        choices=[("", "tapped"), *((p, p) for p in PARTS), (NOWHERE, "no one place")],
    )

    def __init__(self, *args, frame, **kwargs):
        super().__init__(*args, **kwargs)
        self.shown_px = tap_size_px(*frame.size_as_seen)

    def clean(self):
        said = super().clean()
        x, y = (self._pressed(f"at.{axis}") for axis in "xy")
        where = said.get("part")
        if x or y:
            width, height = self.shown_px
            said["area"] = around(x / width, y / height)
        elif where:
            said["area"] = None if where == self.NOWHERE else part(where)
        elif not self.errors:
            raise forms.ValidationError(
                "Tap the place in the small picture, or choose a part of it from the list."
            )
        return said

    def _pressed(self, name):
        text = self.data.get(name, "")
        return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0


class SetUpForm(forms.ModelForm):
    class Meta:
        model = KeptSetUp
        fields = [
            "name",
            "body",
            "lens",
            "focal_length_mm",
            "ring_magnification",
            "tube_mm",
            "close_up_dioptre",
            "teleconverter",
            "reversed",
            "support",
            "sensor_width_mm",
            "records_f_number",
            "pupil_magnification",
        ]
        labels = {
            "name": "What you call it",
            "body": "Body",
            "lens": "Lens",
            "focal_length_mm": "Focal length, mm",
            "ring_magnification": "Mark on the focus ring",
            "tube_mm": "Tubes, all rings together, mm",
            "close_up_dioptre": "Close-up lens, dioptres together",
            "teleconverter": "Converter",
            "reversed": "Lens reversed",
            "support": "Usually held by",
            "sensor_width_mm": "Sensor width, mm",
            "records_f_number": "The f-number in its files is",
            "pupil_magnification": "Pupil ratio",
        }
        help_texts = {
            "name": "Such as: 90 mm macro at life-size, on the rail.",
            "ring_magnification": "As a number: 1 for 1:1, 0.5 for 1:2. Before any tubes.",
            "tube_mm": "12, 20 and 36 together are 68.",
            "close_up_dioptre": "+2 and +4 together are 6.",
            "teleconverter": "1.4 or 2.",
            "sensor_width_mm": "Only where the app asked: 36 full frame, 23.5 or 22.3 APS-C.",
            "records_f_number": "Leave open where you do not know: a range is shown then.",
            "pupil_magnification": "The opening seen from behind, divided by that seen from the "
            "front. Leave open unless you measured it.",
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["support"].choices = [
            ("", "not told"),
            *((s, SUPPORT_WORDS[s]) for s in SUPPORTS),
        ]
        self.fields["records_f_number"].choices = [
            ("", "not known"),
            ("marked", "the one on the ring"),
            ("effective", "the one that reaches the sensor"),
        ]
        self.fields["reversed"].widget = forms.NullBooleanSelect(
            attrs={"id": "id_reversed"},
        )
        self.fields["reversed"].widget.choices = [
            ("unknown", "not told"),
            ("true", "yes"),
            ("false", "no"),
        ]

    def clean(self):
        """Ask the plain set-up whether the numbers can be; it names the one that cannot."""
        values = super().clean()
        if self.errors:
            return values
        for name, value in values.items():
            setattr(self.instance, name, value)
        try:
            self.instance.as_set_up()
        except SetUpError as trouble:
            key = str(trouble).split(" ", 1)[0]
            self.add_error(key if key in self.fields else None, str(trouble))
        return values


class RulerForm(forms.Form):
    """Two points on millimetre marks, in pixels of the picture as it is seen."""

    x1 = forms.FloatField(label="First mark, from the left", min_value=0, max_value=200000)
    y1 = forms.FloatField(label="First mark, from the top", min_value=0, max_value=200000)
    x2 = forms.FloatField(label="Second mark, from the left", min_value=0, max_value=200000)
    y2 = forms.FloatField(label="Second mark, from the top", min_value=0, max_value=200000)
    millimetres = forms.FloatField(
        label="Millimetres between the two marks", min_value=0.1, max_value=1000
    )
    sensor_width_mm = forms.FloatField(
        label="Sensor width, mm",
        required=False,
        min_value=1,
        max_value=120,
        help_text="The file does not say how wide this sensor is. 36 full frame, 23.5 or 22.3 "
        "APS-C, 17.3 Four Thirds.",
    )

    def __init__(self, *args, ask_sensor, **kwargs):
        super().__init__(*args, **kwargs)
        if ask_sensor:
            self.fields["sensor_width_mm"].required = True
        else:
            del self.fields["sensor_width_mm"]

    def clean(self):
        values = super().clean()
        if {"x1", "y1", "x2", "y2"} <= set(values) and self.distance_px < 20:
            raise forms.ValidationError(
                "The two marks are closer than 20 pixels; take two that are farther apart."
            )
        return values

    @property
    def distance_px(self):
        v = self.cleaned_data
        return ((v["x2"] - v["x1"]) ** 2 + (v["y2"] - v["y1"]) ** 2) ** 0.5

"""What a person tells of one camera: its clock and its sensor."""

from datetime import datetime

from django import forms
from django.utils import timezone

from shootlog.models import Frame

OFFERED = 30  # the newest frames of this camera, one of which shows the clock page
FURTHEST_S = 50 * 365 * 86400


class CameraForm(forms.Form):
    clock_frame = forms.ModelChoiceField(
        queryset=Frame.objects.none(),
        required=False,
        label="The frame that shows the clock page",
        empty_label="none",
    )
    clock_showed = forms.RegexField(
        r"^\s*(\d{4}-\d\d-\d\d[ T])?\d{1,2}:\d\d(:\d\d)?\s*$",
        required=False,
        label="What the clock page showed in it",
        help_text="Such as 18:31:07. Add the day, 2026-05-07 18:31:07, if the camera's day is off.",
        error_messages={"invalid": "Give the time as 18:31:07, or with the day before it."},
    )
    minutes_off = forms.FloatField(
        required=False,
        label="Or: minutes to add to this camera's clock",
        help_text="Minus, if it runs ahead: a clock 47 minutes ahead wants -47.",
    )
    sensor_width_mm = forms.FloatField(
        required=False,
        min_value=1,
        max_value=120,
        label="Sensor width, mm",
        help_text="The long side, from the camera's manual. Empty: the app finds it by itself.",
    )

    def __init__(self, *args, camera, **kwargs):
        super().__init__(*args, **kwargs)
        self.camera = camera
        frames = camera.frames.exclude(taken_at=None).order_by("-taken_at")[:OFFERED]
        self.fields["clock_frame"].queryset = camera.frames.filter(
            pk__in=[frame.pk for frame in frames]
        ).order_by("-taken_at")
        self.initial["sensor_width_mm"] = camera.sensor_width_mm

    def clean(self):
        values = super().clean()
        frame, showed = values.get("clock_frame"), values.get("clock_showed")
        minutes = values.get("minutes_off")
        values["offset_s"] = None
        if bool(frame) != bool(showed):
            self.add_error("clock_showed", "Both are needed: the frame, and the time it shows.")
        elif frame:
            values["offset_s"] = self._offset_s(frame, showed)
        elif minutes is not None:
            values["offset_s"] = round(minutes * 60)
        if values["offset_s"] is not None and abs(values["offset_s"]) > FURTHEST_S:
            self.add_error(None, "That is more than fifty years; look at the day again.")
        return values

    def _offset_s(self, frame, showed):
        """Class time less the camera's own clock."""
        own_clock = timezone.localtime(frame.taken_at) - timezone.timedelta(
            seconds=self.camera.clock_offset_s
        )
        day, _, time = showed.strip().replace("T", " ").rpartition(" ")
        hours, minutes, seconds = (int(p) for p in f"{time}:0".split(":")[:3])
        try:
            date = datetime.strptime(day, "%Y-%m-%d").date() if day else own_clock.date()  # noqa: DTZ007
            told = own_clock.replace(
                year=date.year,
                month=date.month,
                day=date.day,
                hour=hours,
                minute=minutes,
                second=seconds,
                microsecond=0,
            )
        except ValueError:
            self.add_error("clock_showed", f"{showed} is no time of day.")
            return None
        return round((told - own_clock).total_seconds())

"""The one thing to ask whose answer would settle most. Never more than one for a frame. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shootlog.magnification import NEAR_FIELD, Found
from shootlog.reading import Quantity, Question
from shootlog.recorded import Recorded
from shootlog.wording import say

VAGUE = 1.3  # a range wider than this ratio is worth a question
SENSOR = Question(
    "sensor",
    say("How wide is this camera's sensor, or was a crop mode on?"),
    ("sensor_width_mm", "coc_um", "depth_of_field_mm", "shake_limit_s"),
)
MAGNIFICATION = Question(
    "magnification",
    say("Which mark did the focus ring show, or can you send one frame of a ruler?"),
    ("magnification", "effective_f_number", "depth_of_field_mm"),
    ("ruler frame", "ring mark", "tubes", "close-up lens"),
)
HABIT = Question(
    "f_number_habit",
    say("Wide open, does the f-number on the camera change as you focus closer?"),
    ("effective_f_number", "depth_of_field_mm"),
    ("it changes", "it stays", "not sure"),
)
SUPPORT = Question(
    "support", say("What held the camera?"), ("shake",), ("hand", "tripod", "rail", "bag")
)
DEPTH = Question("subject_depth_mm", say("How deep is the subject, in mm?"), ("thin-depth",))


def one_question(
    q: Mapping[str, Quantity], facts: Mapping[str, Any], recorded: Recorded, found: Found
) -> Question | None:
    """Return the question on which most of the unsettled numbers hang.

    In the order of what hangs on what: without the sensor nothing can be told from pixels,
    without the magnification nothing of light and depth, and so on.
    """
    if not facts.get("has_exposure"):
        return None  # the original file is what is missing, and `stripped-file` says so
    if "sensor_width_mm" not in q or facts.get("sensor_doubt"):
        return SENSOR
    m = found.magnification
    close = m is None or m.high > NEAR_FIELD
    if m is None or (close and m.high > VAGUE * m.low):
        return MAGNIFICATION
    light = q.get("effective_f_number")
    unsettled = light is not None and light.high > VAGUE * light.low
    if facts.get("f_number_habit") is None and unsettled:
        return HABIT
    limit, exposure = q.get("shake_limit_s"), recorded.exposure_s
    if not facts.get("support") and limit and exposure and exposure > limit.low:
        return SUPPORT
    if "subject_depth_mm" not in q and m.high > 0.1:
        return DEPTH
    return None

"""What of a frame is for its owner alone, and what others are told instead."""

from __future__ import annotations

from typing import Any

NEVER_TOLD = ("body_serial",)  # one body names one person
WHERE_AND_WHEN = ("taken_at", "utc_offset", "taken_subsec_s", "modified_at")
HIDDEN = "kept back, to leave the subject in peace"


def hides_where_and_when(frame, user) -> bool:
    return frame.sensitive_species and frame.owner_id != user.pk


def recorded_for(frame, user) -> dict[str, Any] | None:
    """What the camera wrote, as this person may know it; what is kept back reads as unknown."""
    recorded = frame.recorded
    if recorded is None or frame.owner_id == user.pk:
        return recorded
    held = NEVER_TOLD + (WHERE_AND_WHEN if hides_where_and_when(frame, user) else ())
    told = recorded | {name: None for name in held if name in recorded}
    if "origins" in told:
        told["origins"] = {k: v for k, v in told["origins"].items() if k not in held}
    return told


def place_for(frame, user) -> str:
    """The owner's own vague words; nothing for others where a sensitive species lives."""
    if hides_where_and_when(frame, user):
        return HIDDEN if frame.place_words else ""
    return frame.place_words


def taken_at_for(frame, user):
    """When it was taken; None for others where a sensitive species could be found by it."""
    return None if hides_where_and_when(frame, user) else frame.taken_at

"""The contact sheet: frames of one day together, in the order they were taken."""

from itertools import groupby

from django.utils import timezone


def days(frames):
    """Group a page of frames, newest first, into days; within a day the first taken is first."""
    by_day = groupby(frames, key=lambda frame: timezone.localtime(frame.on_the_sheet).date())
    return [(day, list(together)[::-1]) for day, together in by_day]

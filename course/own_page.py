"""What a frame's own page, a page of the log, says to its owner by the rules of the course."""

from dataclasses import dataclass

from course.models import Group, HandIn
from course.telling import Told, tell
from course.what_is_told import house_for, prints_for_student
from shootlog.findings import examine

WAITS_FOR_A_WORD = "What stands out in it is told when your instructor has answered."
WAITS_FOR_A_HAND_IN = "What stands out in it is told once you handed it in and it came back."


@dataclass(frozen=True)
class OwnPage:
    """What is said, what was wanted, and why it holds back where it does."""

    told: Told
    wanted: str = ""
    waits: str = ""
    faded: frozenset = frozenset()

    @property
    def outcomes(self):
        main = [self.told.main] if self.told.main else []
        return [*main, *self.told.also]


def own_page_of(frame):
    """By the rules of the exercise it was last handed in for; else by those of the courses."""
    reading = frame.what_was_read
    if reading is None:
        return OwnPage(Told())
    handed_in = HandIn.objects.handed_in_by(frame.owner).standing().filter(frames=frame)
    hand_in = handed_in.for_print().order_by("-handed_in_at").first()
    if hand_in is not None:
        return _as_handed_in(frame, hand_in)
    groups = Group.objects.taken_by(frame.owner).select_related("course")
    at_once = all(group.course.advice_at_once for group in groups)
    aside = {flag.finding for flag in frame.flags.all() if flag.set_aside_at}
    told = tell(examine(reading), house_for(frame.owner), set_aside=aside)
    waits = "" if at_once else WAITS_FOR_A_HAND_IN
    return OwnPage(told.for_student(released=at_once), waits=waits)


def _as_handed_in(frame, hand_in):
    shown = next(p for p in prints_for_student(hand_in) if p.frame.pk == frame.pk)
    at_once = hand_in.exercise.week.course.advice_at_once
    waits = "" if at_once or hand_in.released_crits else WAITS_FOR_A_WORD
    return OwnPage(shown.told, hand_in.wanted, waits, shown.faded)

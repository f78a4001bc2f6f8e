"""Who is told what of a frame's findings, and when. Pure: no Django, no database.

The rules are those of teaching: one main point and two folded beside it (R1), a finding people
set aside too often falls silent for students (R7), a topic waits for its week (R8), the same
thing is not said a fourth time (R9), file trouble at once and advice when released (R12).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from shootlog.findings import all_findings
from shootlog.findings.base import Outcome
from shootlog.main_point import main_point

ALSO_AT_MOST = 2
#: A slice is sharp in its own place and nowhere else: that is what it is for.
OF_ONE_SLICE = ("missed-focus", "thin-depth")
WAIVED_IN = {"stack": OF_ONE_SLICE, "landscape": OF_ONE_SLICE}
SAID_OFTEN = 3


@dataclass(frozen=True, kw_only=True)
class House:
    """What decides, gathered once per hand-in by the caller."""

    later: Collection[str] = ()  # topics whose week is still to come
    waived: Collection[str] = ()  # findings this exercise does not raise
    silent: Collection[str] = ()  # findings set aside too often
    said_before: Mapping[str, int] = field(default_factory=dict)  # times said to this student
    brief: Collection[str] = ()  # topics the exercise is about


@dataclass(frozen=True, kw_only=True)
class Told:
    """What one print's page says; `held` and `aside` are for the instructor's eyes only."""

    trouble: Sequence[Outcome] = ()
    main: Outcome | None = None
    also: Sequence[Outcome] = ()
    held: Sequence[tuple[Outcome, str]] = ()  # with why it is held
    aside: Sequence[Outcome] = ()  # someone said 'not so'

    @property
    def raised(self) -> list[Outcome]:
        """Everything that stands, held or not."""
        main = [self.main] if self.main else []
        return [*self.trouble, *main, *self.also, *(outcome for outcome, _ in self.held)]

    def for_student(self, *, released: bool) -> Told:
        """The same without what a student does not see yet."""
        if released:
            return Told(trouble=self.trouble, main=self.main, also=self.also)
        return Told(trouble=self.trouble)


def tell(
    outcomes: Sequence[Outcome],
    house: House,
    *,
    set_aside: Collection[str] = (),
    chosen: str = "",
) -> Told:
    """Sort a frame's outcomes 'yes' into what is said, what waits and what was set aside.

    `chosen` is the finding the instructor wants said first; it goes before every rule but
    'not so', since a person knows better.
    """
    yes = [o for o in outcomes if o.answer == "yes" and o.finding not in house.waived]
    stands = [o for o in yes if o.finding not in set_aside]
    trouble = [o for o in stands if _is_about_the_file(o)]
    rest = [o for o in stands if not _is_about_the_file(o)]
    held = [(o, held_because(o.finding, o.topic, house)) for o in rest if o.finding != chosen]
    waits = {o.finding for o, why in held if why}
    free = [o for o in rest if o.finding not in waits]
    main = next((o for o in free if o.finding == chosen), None)
    if main is None and free:
        main = main_point(free, house.brief).main
    also = [o for o in free if o is not main]
    return Told(
        trouble=trouble,
        main=main,
        also=also[:ALSO_AT_MOST],
        held=[
            *((o, why) for o, why in held if why),
            *((o, "Two others come before it.") for o in also[ALSO_AT_MOST:]),
        ],
        aside=[o for o in yes if o.finding in set_aside],
    )


def held_because(slug: str, topic: str, house: House) -> str:
    """Return why a finding, of a frame or of a series, waits; empty where it does not."""
    if slug in house.silent:
        return "People often say ‘not so’ to this one; students do not see it until you say it."
    if topic in house.later:
        return "Its week is still to come."
    if house.said_before.get(slug, 0) >= SAID_OFTEN:
        return f"Said {house.said_before[slug]} times already. Better to talk with them."
    return ""


def _is_about_the_file(outcome: Outcome) -> bool:
    finding = all_findings().get(outcome.finding)
    return finding is not None and finding.file_trouble

"""What every finding is: one question asked of a reading, answered yes, no or cannot tell. Pure.

A finding says what it needs and gives its numbers at one corner of the reading's ranges; here
missing values, ranges, the three answers and how sure one may be are settled once for all.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal

from shootlog.findings.proof import Proof, proof_of
from shootlog.reading import QUANTITIES, Reading
from shootlog.wording import Spread

Answer = Literal["yes", "no", "cannot tell"]
Sure = Literal["measured", "told", "likely", "cannot tell"]
#: The four certainties as people read them.
SURE_WORDS: dict[Sure, str] = {
    "measured": "measured",
    "told": "worked out from what you told us",
    "likely": "likely, please check",
    "cannot tell": "can't tell",
}
CANNOT_TELL: Literal["cannot tell"] = "cannot tell"


@dataclass(frozen=True)
class Outcome:
    """A finding's answer about one frame, with its numbers and the limit among them."""

    finding: str
    answer: Answer
    sure: Sure
    numbers: Mapping[str, Spread] = field(default_factory=dict)
    words: str = ""
    remedy: str = ""
    steps: Sequence[str] = ()  # a longer remedy, one step each
    topic: str = ""
    proof: Proof | None = None  # where in the picture a yes can be seen

    @property
    def sure_words(self) -> str:
        return SURE_WORDS[self.sure]

    def as_json(self) -> dict[str, Any]:
        return {
            "finding": self.finding,
            "answer": self.answer,
            "sure": self.sure,
            "numbers": {name: _plain(number) for name, number in self.numbers.items()},
            "words": self.words,
            "remedy": self.remedy,
            "steps": list(self.steps),
            "topic": self.topic,
            "proof": self.proof.as_json() if self.proof else None,
        }

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> Outcome:
        numbers = {
            name: Spread(number if isinstance(number, list) else (number,))
            for name, number in values["numbers"].items()
        }
        return cls(
            values["finding"], values["answer"], values["sure"], numbers,
            values["words"], values["remedy"],
            tuple(values.get("steps", ())), values.get("topic", ""),
            Proof.from_json(values.get("proof")),
        )  # fmt: skip


def _plain(number: Spread) -> float | list[float]:
    low, high = min(number), max(number)
    return low if low == high else [low, high]


class Finding:
    """One question. Subclasses name what they need and say how the answer follows."""

    slug: ClassVar[str]
    topic: ClassVar[str]  # of the lesson that teaches it; file trouble waits for no lesson
    title: ClassVar[str]
    why: ClassVar[str]  # one sentence for the catalogue
    needs: ClassVar[tuple[str, ...]] = ()  # quantities, each with a range
    needs_facts: ClassVar[tuple[str, ...]] = ()
    limit: ClassVar[float] = math.nan  # the house's line; a course or an exercise may move it
    limit_means: ClassVar[str] = ""
    wording: ClassVar[str]
    remedy: ClassVar[str] = ""
    #: How much the matter changes the picture, 0 to 1; one reason among four (rule R1).
    weight: ClassVar[float] = 0.5
    likely: ClassVar[bool] = False  # never surer than 'likely, please check'
    file_trouble: ClassVar[bool] = False  # told at once, before any lesson
    of_one_exposure: ClassVar[bool] = False  # says nothing about a picture merged from several
    #: What is said under the crop that proves a yes, and under a good one of the same frame.
    here: ClassVar[str] = ""
    good: ClassVar[str] = ""

    fires_on: ClassVar[Reading]
    quiet_on: ClassVar[Reading]

    # what a finding says for itself

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        """Return the numbers of the answer at one corner of the ranges."""
        return dict(at)

    def is_raised(self, numbers: Mapping[str, float]) -> bool | None:
        """Say whether these numbers are a yes; the limit is one of them."""
        raise NotImplementedError

    def not_for(self, reading: Reading) -> str:
        """Return why this reading cannot be asked at all, or nothing."""
        return ""

    def way_out(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        """Return what to try next, beginning with a verb, with its numbers filled in."""
        return self.remedy.format_map(numbers)

    def say(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        return self.wording.format_map(numbers)

    def steps(self, reading: Reading) -> Sequence[str]:
        return ()

    # the same for all

    def examine(self, reading: Reading, limit: float | None = None) -> Outcome:
        """Ask the question of a reading, at every corner of what is not known."""
        why_not = self._merged(reading) or self._missing(reading) or self.not_for(reading)
        if why_not:
            return self._cannot_tell({}, why_not)
        line = {} if math.isnan(self.limit) and limit is None else {"limit": self._line(limit)}
        corners = [
            line | self.numbers(corner, reading) | ({"limit": limit} if limit is not None else {})
            for corner in reading.corners(self.needs)
        ]
        numbers = {name: Spread(c[name] for c in corners) for name in corners[0]}
        return self._answer(reading, numbers, {self.is_raised(c) for c in corners})

    def with_limit(self, outcome: Outcome, limit: float, reading: Reading) -> Outcome:
        """Answer again with another line. No pixel is read and no formula run."""
        if "limit" not in outcome.numbers:
            return outcome
        numbers = dict(outcome.numbers) | {"limit": Spread((limit,))}
        ends = [{name: end(number) for name, number in numbers.items()} for end in (min, max)]
        return self._answer(reading, numbers, {self.is_raised(end) for end in ends})

    def _answer(
        self, reading: Reading, numbers: Mapping[str, Spread], answers: set[bool | None]
    ) -> Outcome:
        if answers == {True}:
            return Outcome(
                self.slug, "yes", self.how_sure(reading), numbers, self.say(reading, numbers),
                self.way_out(reading, numbers), tuple(self.steps(reading)), self.topic,
                self.proof(reading),
            )  # fmt: skip
        if answers == {False}:
            return Outcome(self.slug, "no", self.how_sure(reading), numbers, topic=self.topic)
        return self._cannot_tell(numbers, self.undecided(reading, numbers))

    def proof(self, reading: Reading) -> Proof | None:
        """Return where a yes can be seen, with its words; None where no pixel shows it."""
        return proof_of(reading.fact("crops"), self.slug, self.here, self.good)

    def undecided(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        """Say why the answer hangs in the balance."""
        return "The range of what is known lies on both sides of the line."

    def _cannot_tell(self, numbers: Mapping[str, Spread], why: str) -> Outcome:
        return Outcome(self.slug, CANNOT_TELL, CANNOT_TELL, numbers, why, topic=self.topic)

    def _line(self, limit: float | None) -> float:
        return self.limit if limit is None else limit

    def _missing(self, reading: Reading) -> str:
        unknown = [QUANTITIES[name].label for name in self.needs if reading[name] is None]
        unknown += [
            name.replace("_", " ") for name in self.needs_facts if reading.fact(name) is None
        ]
        return f"Not known: {', '.join(unknown)}." if unknown else ""

    def _merged(self, reading: Reading) -> str:
        if self.of_one_exposure and reading.fact("composite") in ("while shooting", "stacked"):
            return "The camera merged several exposures into this picture."
        return ""

    def how_sure(self, reading: Reading) -> Sure:
        """Return the weakest of what the answer rests on."""
        if self.likely:
            return "likely"
        rests_on = {origin for name in self.needs if (q := reading[name]) for origin in q.rests_on}
        if "assumed" in rests_on:
            return "likely"
        return "told" if "told" in rests_on else "measured"

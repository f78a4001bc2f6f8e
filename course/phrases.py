"""A teacher's own sentences with the numbers of this print filled in. Pure.

A number stands in curly brackets, as {effective}; what each finding knows is in `numbers_of`. It
is written as the finding itself writes it. A sentence whose number this print does not have is
not offered: a gap in a teacher's sentence would be ours, in her voice.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from string import Formatter

from shootlog.findings import all_findings
from shootlog.findings.base import Outcome

VERDICTS = {"met": "met", "not-yet": "not yet", "cant-tell": "can't tell"}
#: What a verdict fills in: the row, the number that came out, what was asked, and the whole why.
OF_VERDICTS = ("what", "came", "asked", "why")
GAP = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True)
class Offered:
    """A sentence ready to be said."""

    words: str


def numbers_of(about: str) -> list[str]:
    """Return the numbers a sentence about this finding or verdict may name."""
    if about in VERDICTS:
        return list(OF_VERDICTS)
    asked = all_findings().get(about)
    return list(asked.examine(asked.fires_on).numbers) if asked else []


def strange_numbers(about: str, words: str) -> list[str]:
    """Names in curly brackets that nothing would fill."""
    known = numbers_of(about)
    return [name for name in GAP.findall(words) if name not in known]


def offered(
    phrases: Iterable[tuple[str, str]],
    outcomes: Sequence[Outcome],
    verdicts: Sequence[Mapping[str, str]],
) -> list[Offered]:
    """Return the sentences that fit this print, what it is about first.

    `phrases` are (about, words); those about a finding come where it is raised, those about a
    verdict once for each row that has it, all others always.
    """
    raised = {outcome.finding: outcome for outcome in outcomes if outcome.answer == "yes"}
    fitting: list[str | None] = []
    always: list[str | None] = []
    for about, words in phrases:
        if about in all_findings():
            if about in raised:
                fitting.append(_of_outcome(words, raised[about]))
        elif about in VERDICTS:
            these = (v for v in verdicts if v.get("verdict") == VERDICTS[about])
            fitting += [_of_verdict(words, verdict) for verdict in these]
        else:
            always.append(words)
    said = [words for words in [*fitting, *always] if words]
    return [Offered(words) for words in dict.fromkeys(said)]


def _of_outcome(words: str, outcome: Outcome) -> str | None:
    styles = _styles(outcome.finding)
    known = {
        name: format(number, styles.get(name, "two")) for name, number in outcome.numbers.items()
    }
    return _filled(words, known)


def _of_verdict(words: str, verdict: Mapping[str, str]) -> str | None:
    known = {"what": verdict.get("criterion", ""), "why": verdict.get("why", "")}
    known |= {name: verdict.get(name, "") for name in ("came", "asked")}
    return _filled(words, known)


def _filled(words: str, known: Mapping[str, str]) -> str | None:
    if any(not known.get(name) for name in GAP.findall(words)):
        return None
    return GAP.sub(lambda gap: known[gap[1]], words)


def _styles(slug: str) -> dict[str, str]:
    """How the finding's own sentences write each number."""
    asked = all_findings()[slug]
    parts = [*Formatter().parse(asked.wording), *Formatter().parse(asked.remedy)]
    return {name: spec for _, name, spec, _ in parts if name and spec}

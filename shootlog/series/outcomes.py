"""Outcomes about a series: the same shape as a frame's, with the words beside the limit.

A series has no `Reading` of its own, so these are made where they are measured; here are their
sentences, one place to change them.
"""

from __future__ import annotations

from collections.abc import Sequence

from shootlog.findings.base import Answer, Outcome, Sure
from shootlog.wording import Spread

TOPIC = {
    "stack-gap": "stacking",
    "stack-step": "stacking",
    "stack-moved": "stacking",
    "stack-softened": "stacking",
    "stack-short": "stacking",
    "stack-order": "stacking",
    "stack-unlike": "stacking",
    "exposure-jump": "exposure",
    "colour-jump": "exposure",
    "framing-moved": "shake",
    "approach-step": "approach",
}

#: What each is called where a list names it in two or three words.
TITLE = {
    "stack-gap": "a gap in the steps",
    "stack-step": "the step",
    "stack-moved": "moved between the frames",
    "stack-softened": "moved during a slice",
    "stack-short": "an end of the stack",
    "stack-order": "the order of the steps",
    "stack-unlike": "a frame of something else",
    "exposure-jump": "the light changes between the frames",
    "colour-jump": "the colour changes between the frames",
    "framing-moved": "the framing moved",
    "approach-step": "a small step",
}


def outcome(
    slug: str,
    answer: Answer,
    sure: Sure,
    words: str = "",
    remedy: str = "",
    **numbers: float | Sequence[float] | None,
) -> Outcome:
    """Make an outcome; numbers that are None are left out."""
    spreads = {
        name: Spread(tuple(value) if isinstance(value, Sequence) else (value,))
        for name, value in numbers.items()
        if value is not None
    }
    return Outcome(slug, answer, sure, spreads, words, remedy, (), TOPIC.get(slug, ""))


def between(pairs: Sequence[Sequence[int]]) -> str:
    """'between 9 and 10', 'between 3 and 4, and 7 and 8', 'in 5 places, first ...'."""
    if len(pairs) > 3:
        return f"in {len(pairs)} places, first between {pairs[0][0]} and {pairs[0][1]}"
    return "between " + ", and ".join(f"{a} and {b}" for a, b in pairs)


def joined(outcomes: Sequence[Outcome], nothing: str) -> str:
    """The words of a whole series: what was found, or that there was nothing to say."""
    return " ".join(o.words for o in outcomes if o.answer == "yes" and o.words) or nothing

"""Set-ups of the same body, lens and rings together, so that ring marks do not make a long list."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.models import ModelChoiceIterator

from shootlog.wording import figures, ratio

SAME = (
    "body",
    "lens",
    "focal_length_mm",
    "tube_mm",
    "close_up_dioptre",
    "teleconverter",
    "reversed",
)


@dataclass(frozen=True)
class Group:
    """What is mounted, and each set-up of it with the words that tell it from the others."""

    title: str
    set_ups: list[tuple[Any, str]]


def group_set_ups(set_ups: Iterable[Any]) -> list[Group]:
    """Put set-ups together by what is mounted; the group used last first, ring marks in order."""
    found: dict[tuple[Any, ...], list[Any]] = {}
    for kept in set_ups:
        found.setdefault(tuple(getattr(kept, name) for name in SAME), []).append(kept)
    return [_group(together) for together in found.values()]


def _group(together: list[Any]) -> Group:
    if len(together) == 1:
        return Group(together[0].name, [(together[0], together[0].name)])
    by_mark = sorted(together, key=lambda k: (k.ring_magnification is not None, _size(k)))
    rows = [(kept, mark_words(kept)) for kept in by_mark]
    said = [words for _, words in rows]
    # two that the mark does not tell apart keep the names their owner gave
    return Group(
        mounted(together[0]),
        [(kept, words if said.count(words) == 1 else kept.name) for kept, words in rows],
    )


def _size(kept: Any) -> float:
    return float(kept.ring_magnification or 0.0)


def mark_words(kept: Any) -> str:
    """What tells a set-up from others with the same things mounted."""
    if kept.ring_magnification:
        return f"Ring at {ratio(kept.ring_magnification)}"
    return "Ring not told"


def mounted(kept: Any) -> str:
    """Body, lens and what is between and before them, in words."""
    parts = [kept.body, kept.lens]
    if kept.tube_mm:
        parts.append(f"tubes {figures(kept.tube_mm)} mm")
    if kept.close_up_dioptre:
        parts.append(f"close-up lens +{kept.close_up_dioptre:g}")
    if kept.teleconverter:
        parts.append(f"converter {kept.teleconverter:g} times")
    if kept.reversed:
        parts.append("reversed")
    return ", ".join(part for part in parts if part) or kept.name


def _alone(kept: Any, words: str) -> str:
    """The words of one that stands without its heading, as in a closed list."""
    if words == kept.name or not (kept.lens or kept.body):
        return words
    return f"{kept.lens or kept.body}, {words[:1].lower()}{words[1:]}"


class GroupedChoices(ModelChoiceIterator):
    """The choices of a list under what is mounted; one alone stands without a heading."""

    def __iter__(self):
        if self.field.empty_label is not None:
            yield ("", self.field.empty_label)
        for group in group_set_ups(self.queryset.all()):
            if len(group.set_ups) == 1:
                yield self.choice(group.set_ups[0][0])
            else:
                yield (
                    group.title,
                    [(self.choice(kept)[0], _alone(kept, words)) for kept, words in group.set_ups],
                )


class SetUpField(forms.ModelChoiceField):
    """One of a person's set-ups, those of the same things mounted together."""

    iterator = GroupedChoices

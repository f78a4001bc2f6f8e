"""How easily a text reads: Flesch's reading ease, in his own names for it. Pure.

R. Flesch, A new readability yardstick, Journal of Applied Psychology 32 (1948), 221-233:
206.835 - 1.015 (words per sentence) - 84.6 (syllables per word). 60 to 70 is 'standard', 70 to 80
'fairly easy' (his table; from memory). Syllables are counted by groups of vowels, without the
silent e; on single words that is off now and then, over a lesson by a point or two.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from course.plain_text import blocks

#: Flesch's names for the ranges, from the hardest up.
RANGES = (
    (30, "very hard"),
    (50, "hard"),
    (60, "fairly hard"),
    (70, "plain"),
    (80, "fairly easy"),
    (90, "easy"),
)
WORD = re.compile(r"[^\W\d_]+(?:['’-][^\W\d_]+)*")
SENTENCE = re.compile(r"[.!?:](?=\s|$)")
SOUND = re.compile(r"[aeiouyáéíóúäöü]+")
#: The last e of "make", "moves" and "turned"; not that of "table", "pages" and "wanted".
SILENT = re.compile(r"([^aeiouyl]|[aeiouy]l)e$|([^aeiouyszxcgh]|th)es$|[^aeiouydt]ed$")


@dataclass(frozen=True)
class Measured:
    """What was counted in a text, and how it reads."""

    words: int
    sentences: int
    syllables: int

    @property
    def ease(self) -> float:
        if not self.words:
            return 100.0
        return 206.835 - 1.015 * self.words / self.sentences - 84.6 * self.syllables / self.words

    @property
    def in_words(self) -> str:
        return next((name for line, name in RANGES if self.ease < line), "very easy")


def measure(text: str) -> Measured:
    """Count a Markdown text as it is read aloud; drawings are not read."""
    spoken = [b.text for b in blocks(text) if not b.text.startswith("(Drawing:")]
    words = [word for line in spoken for word in WORD.findall(line)]
    # a heading or an item of a list ends a sentence without a full stop
    sentences = sum(max(1, len(SENTENCE.findall(line))) for line in spoken if WORD.search(line))
    return Measured(len(words), max(1, sentences), sum(map(syllables, words)))


def syllables(word: str) -> int:
    """Return about how many syllables an English word has."""
    plain = word.lower()
    return max(1, len(SOUND.findall(plain)) - bool(SILENT.search(plain)))

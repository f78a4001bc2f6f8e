"""The camera put this picture together from several: depth and shake mean something else.

A phone's "general composite" is every picture it takes, several exposures of one moment: that is
no merge of focus slices, and not certainly one exposure either.
"""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import say

WEIGHT = {"no": 0.0, "general": 0.5, "while shooting": 1.0, "stacked": 1.0}


class AlreadyMerged(Finding):
    slug = "already-merged"
    topic = "stacking"
    needs_facts = ("composite",)
    weight = 0.6
    file_trouble = True
    title = "Merged in the camera"
    why = "A merged picture has the depth of its whole set, not of one frame."
    wording = say("Several exposures went into this one picture, says the camera.")
    remedy = say("Send the single frames too; depth and step can be read from those.")

    fires_on = sample(composite="stacked")
    quiet_on = sample(composite="no")

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        return {"merged": WEIGHT.get(str(reading.fact("composite")), 0.5)}

    def is_raised(self, numbers: Mapping[str, float]) -> bool | None:
        return {0.0: False, 1.0: True}.get(numbers["merged"])

    def undecided(self, reading: Reading, numbers: object) -> str:
        return "The phone joined several exposures of one moment, as it always does."

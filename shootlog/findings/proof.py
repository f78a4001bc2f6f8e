"""Where in the picture a finding can be seen, in words for the page. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

TALL_PX = 480


@dataclass(frozen=True)
class Crop:
    """A rectangle in pixels of the picture as shown, and what is said under it."""

    x: int
    y: int
    w: int
    h: int
    words: str

    @property
    def query(self) -> str:
        """How the crop is asked for, behind the address of the frame's crops."""
        return f"x={self.x}&y={self.y}&w={self.w}&h={self.h}"

    @property
    def is_tall(self) -> bool:
        """Too tall to be shown at its own pixels: bands lie far apart."""
        return self.h > TALL_PX

    def as_json(self) -> dict[str, Any]:
        return {"x": self.x, "y": self.y, "w": self.w, "h": self.h, "words": self.words}


@dataclass(frozen=True)
class Proof:
    """The crop that shows it, and where one exists one beside it that is good."""

    here: Crop
    good: Crop | None = None

    @property
    def crops(self) -> list[Crop]:
        return [self.here, self.good] if self.good else [self.here]

    def as_json(self) -> dict[str, Any]:
        good = self.good.as_json() if self.good else None
        return {"here": self.here.as_json(), "good": good}

    @classmethod
    def from_json(cls, values: Mapping[str, Any] | None) -> Proof | None:
        if not values:
            return None
        good = values.get("good")
        return cls(Crop(**values["here"]), Crop(**good) if good else None)


def proof_of(crops: object, slug: str, here: str, good: str) -> Proof | None:
    """Put a finding's words to the rectangles that were chosen when the pixels were read.

    ``crops`` is the reading's fact of that name: {finding: {"here": [x, y, w, h], "good": ...}}.
    """
    pair = crops.get(slug) if isinstance(crops, Mapping) else None
    if not here or not isinstance(pair, Mapping) or not _is_box(pair.get("here")):
        return None
    beside = pair.get("good")
    if not good or not _is_box(beside):
        return Proof(_crop(pair["here"], here.rstrip(",.") + "."))
    return Proof(_crop(pair["here"], here), _crop(beside, good))


def _is_box(box: Any) -> bool:
    return isinstance(box, list | tuple) and len(box) == 4


def _crop(box: Any, words: str) -> Crop:
    x, y, w, h = (int(value) for value in box)
    return Crop(x, y, w, h, words)

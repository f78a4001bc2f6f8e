"""A high ISO while exposure time was to spare: grain paid for speed nobody needed."""

from __future__ import annotations

import math
from collections.abc import Mapping

from shootlog.findings.base import Finding, Sure
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import Spread, say, seconds

LIMIT_ISO = 3200.0  # common practice, no source
SPARE_STOPS = 1.0
TRIPOD_SPARE_STOPS = 3.0  # a still subject on a tripod could wait this much longer at least


class HighIso(Finding):
    slug = "high-iso"
    topic = "iso"
    needs = ("iso", "exposure_s")
    limit = LIMIT_ISO
    limit_means = "largest ISO with exposure time to spare"
    weight = 0.3
    of_one_exposure = True
    title = "ISO higher than the light asked for"
    why = "ISO buys speed and pays in grain; here some of the speed was spare."
    wording = say("ISO {iso:.0f} bought {exposure_s:seconds}; you paid for it in grain.")
    remedy = say("Try ISO {try_iso:.0f} at {try_s:seconds}.")
    here = say("An even tone, where the grain shows.")

    fires_on = sample("recorded", iso=6400, exposure_s=1 / 2000, shake_limit_s=1 / 200)
    quiet_on = sample("recorded", iso=200, exposure_s=1 / 200, shake_limit_s=1 / 200)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        spare = self.spare_stops(at["exposure_s"], reading)
        spend = max(0.0, min(spare, math.log2(max(at["iso"] / 100, 1))))
        return {
            "iso": at["iso"],
            "exposure_s": at["exposure_s"],
            "spare_stops": spare,
            "try_iso": at["iso"] / 2 ** math.floor(spend),
            "try_s": at["exposure_s"] * 2 ** math.floor(spend),
        }

    def spare_stops(self, exposure_s: float, reading: Reading) -> float:
        if reading.fact("support") == "tripod":
            return TRIPOD_SPARE_STOPS
        limit = reading["shake_limit_s"]
        return math.log2(limit.low / exposure_s) if limit else 0.0

    def is_raised(self, numbers: Mapping[str, float]) -> bool:
        return numbers["iso"] > numbers["limit"] and numbers["spare_stops"] >= SPARE_STOPS

    def not_for(self, reading: Reading) -> str:
        iso = reading["iso"]
        if iso and iso.low > LIMIT_ISO and reading.fact("support") != "tripod":
            if reading["shake_limit_s"] is None:
                return "How slow the hand could go is not known."
            if reading.fact("flash_fired"):
                return "With flash, ISO also sets how far the light reaches."
        return ""

    def how_sure(self, reading: Reading) -> Sure:
        """Wind and walking insects are not in the file: the teacher looks again."""
        iso = reading["iso"]
        return "likely" if iso and iso.high > LIMIT_ISO else super().how_sure(reading)

    def say(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        if reading.fact("support") == "tripod":
            exposure = seconds(min(numbers["exposure_s"]))
            return f"ISO {numbers['iso']:.0f} on a tripod at {exposure}; you paid for it in grain."
        return super().say(reading, numbers)

"""Stopped down so far that diffraction, not focus, sets the finest detail.

The line is the smaller of two: f/22 as it worked, the common working limit close up (teaching
practice, no standard); and where diffraction alone fills the circle of confusion the frame is
judged by, 1.745 x 0.55 µm x f-number = c (disc of equal MTF50, Hopkins 1955).
"""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import Spread, say, written

LIMIT_EFFECTIVE = 22.0
BLUR_UM_PER_STOP_NUMBER = 1.745 * 0.55
AIRY_UM_PER_STOP_NUMBER = 2.43934 * 0.55

#: The f-numbers that dials show, in thirds of a stop.
DIAL = (
    *(1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10),
    *(11, 13, 14, 16, 18, 20, 22, 25, 29, 32, 36, 40, 45, 51, 57, 64),
)


class Diffraction(Finding):
    slug = "diffraction"
    topic = "diffraction"
    needs = ("effective_f_number", "coc_um")
    limit = LIMIT_EFFECTIVE
    limit_means = "largest effective f-number"
    weight = 0.5
    title = "Diffraction sets the detail"
    why = "A small opening spreads every point of light, however well it is focused."
    wording = say("{effective:f} at the sensor: the smallest spot is {airy_um:.0f} µm wide.")
    remedy = say("Try the same frame at {open_to:f} on the lens, and compare fine hairs.")
    here = say("The finest detail of the frame, at its true pixels.")

    fires_on = sample(effective_f_number=44.0, marked_f_number=22.0, coc_um=28.8, magnification=1.0)
    quiet_on = sample(effective_f_number=8.4, marked_f_number=5.6, coc_um=28.8, magnification=0.5)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        effective = at["effective_f_number"]
        fills_coc = at["coc_um"] / BLUR_UM_PER_STOP_NUMBER
        return {
            "effective": effective,
            "airy_um": AIRY_UM_PER_STOP_NUMBER * effective,
            "limit": min(self.limit, fills_coc),
        }

    def is_raised(self, numbers: Mapping[str, float]) -> bool:
        return numbers["effective"] > numbers["limit"]

    def say(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        """Name the number on the dial first where the two differ: it is what was chosen."""
        marked = reading["marked_f_number"]
        words = super().say(reading, numbers)
        if marked and written(marked.middle, "f") != format(numbers["effective"], "f"):
            return f"{marked.spread:f} on the lens came out as {words}"
        return words

    def way_out(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        marked, effective = reading["marked_f_number"], reading["effective_f_number"]
        ratio = marked.middle / effective.middle if marked and effective else 1.0
        open_to = max(1.0, 0.75 * min(numbers["limit"]) * ratio)
        return self.remedy.format(open_to=Spread((whole_stop(open_to),)))


def whole_stop(f_number: float) -> float:
    """Return the nearest third-of-a-stop number that dials show, not above the given one."""
    return max((n for n in DIAL if n <= f_number * 1.03), default=1.0)

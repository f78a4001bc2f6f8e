"""A dark spot that stands in the same place in three frames and more: it is on the sensor.

One frame never tells. What the camera's other frames show is looked at after each is read
(`shootlog.dust_job`); here only the count is judged.
"""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import Spread, say

LIMIT_FRAMES = 3.0  # two meetings may be chance


class Dust(Finding):
    slug = "dust"
    topic = "dust"
    needs = ("dust_frames",)
    limit = LIMIT_FRAMES
    limit_means = "frames with a spot in the same place"
    weight = 0.3
    title = "Dust on the sensor"
    why = "A small opening draws every grain on the sensor's glass as a dark spot."
    wording = say("{frames:.0f} frames have the same dark spot: it lies on the sensor.")
    beside = say("It is in {names} too.")
    remedy = say("Blow the sensor out with a rubber bulb, or have it cleaned; then retouch these.")
    here = say("The spot, in the middle.")

    fires_on = sample(dust_frames=4.0)
    quiet_on = sample(dust_frames=0.0)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        return {"frames": at["dust_frames"]}

    def is_raised(self, numbers: Mapping[str, float]) -> bool:
        return numbers["frames"] >= numbers["limit"]

    def say(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        words = super().say(reading, numbers)
        names = reading.fact("dust_beside")
        return f"{words} {self.beside.format(names=' and '.join(names))}" if names else words

"""Sharpness lies elsewhere than wanted, or nowhere.

Where it should lie only a person can say, so without a wanted area a sharp band anywhere leaves
the question open. Nothing sharp at all, without the streaks of a moved camera, is focus too.
"""

from __future__ import annotations

from collections.abc import Mapping

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.findings.shake import LIMIT_SMEAR_PX
from shootlog.reading import Reading
from shootlog.wording import Spread, say

LIMIT_WANTED = 0.15  # share of the wanted area that must be sharp; common practice, no source
NOTHING_SHARP = 0.001
MOSTLY_BURNT = 0.5
TOO_DARK = 0.004  # mean light, of full: what is sharp there drowns in the rounding
SOFT_PX = 6.0  # blur in the sharpest place that no eye calls sharp at full size
SHARP_PX = 1.6  # the file cannot show blur much smaller
SLOW_S = 1 / 15  # longer, and what is soft in one place may have moved: common practice, no source
TIMES_LIGHT = 2.0  # blur beyond what the opening alone spreads, before focus is named
ROUND_SHARE = 0.12  # of the place tells one blur whichever direction is asked: nothing moved so


class MissedFocus(Finding):
    slug = "missed-focus"
    topic = "focus-by-moving"
    needs = ("sharp_share",)
    limit = LIMIT_WANTED
    limit_means = "share of the wanted area that is sharp"
    weight = 1.0
    title = "Sharp somewhere else"
    why = "Close up the sharp band is thin: a sway of a millimetre moves it off."
    wording = say("{wanted:share} of the place you wanted is sharp; sharpness lies elsewhere.")
    nowhere = say("{sharp:share} of the frame is sharp: the plane of focus met nothing.")
    soft = say("{blur_px:.0f} pixels of blur even where it is sharpest: focus met nothing.")
    remedy = say("Fix the ring, lean in slowly, and shoot as the wanted place comes in.")
    here = say("Here it is soft,")
    good = say("and here, where it is sharp.")

    fires_on = sample(sharp_share=0.08, wanted_sharp_share=0.02)
    quiet_on = sample(sharp_share=0.08, wanted_sharp_share=0.6)

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        numbers = {"sharp": at["sharp_share"]}
        if wanted := reading["wanted_sharp_share"]:
            numbers["wanted"] = wanted.middle
        if there := reading["wanted_blur_px"]:
            numbers["wanted_blur_px"] = there.middle
        if alike := reading["wanted_round_share"]:
            numbers["round"] = alike.middle
        if blur := reading["blur_px"]:
            numbers["blur_px"] = blur.low
        if smear := reading["smear_px"]:
            numbers["smear_px"] = smear.high
        exposure = reading["exposure_s"]
        if exposure and not reading.fact("flash_fired"):
            numbers["exposure_s"] = exposure.low
        spread_um, pixel_um = reading["diffraction_blur_um"], reading["file_pixel_um"]
        if spread_um and pixel_um and pixel_um.low > 0:
            numbers["light_px"] = spread_um.high / pixel_um.low
        return numbers

    def not_for(self, reading: Reading) -> str:
        burnt = reading["clipped_share"]
        if burnt and burnt.low > MOSTLY_BURNT:
            return f"Too much is burnt out ({burnt.spread:share}) to judge sharpness by."
        light = reading["mean_luminance"]
        if light and light.high < TOO_DARK:
            return "The picture is too dark to judge sharpness by."
        return ""

    def is_raised(self, numbers: Mapping[str, float]) -> bool | None:
        if numbers["sharp"] <= NOTHING_SHARP or numbers.get("blur_px", 0) > SOFT_PX:
            moved = numbers.get("smear_px", 0.0) > LIMIT_SMEAR_PX or self._slow(numbers)
            return None if moved or self._light_explains(numbers) else True
        if "wanted" not in numbers:
            return None
        if numbers["wanted"] >= numbers["limit"]:
            return False
        moved = self._slow(numbers) and numbers.get("round", 0.0) < ROUND_SHARE
        told = "wanted_blur_px" in numbers
        light = told and self._light_explains(numbers, "wanted_blur_px")
        return None if moved or light else True

    def _slow(self, numbers: Mapping[str, float]) -> bool:
        return numbers.get("exposure_s", 0.0) > SLOW_S

    def _light_explains(self, numbers: Mapping[str, float], blur: str = "blur_px") -> bool:
        """A small opening makes all of a frame soft too; that is no missed focus."""
        light = numbers.get("light_px", 0.0)
        return light > SHARP_PX and numbers.get(blur, 0.0) < TIMES_LIGHT * light

    def undecided(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        if reading["wanted_sharp_share"] is None and "smear_px" not in numbers:
            return "Where should it be sharp? Tap the place."
        if reading["wanted_sharp_share"] is None:
            return "Where should it be sharp? Tap the place, and the picture answers."
        if "exposure_s" in numbers and min(numbers["exposure_s"]) > SLOW_S:
            slow = numbers["exposure_s"]
            return f"Soft where you wanted it sharp; at {slow:seconds} it may have moved instead."
        if "light_px" in numbers and max(numbers["light_px"]) > SHARP_PX:
            return "The picture is soft all over, as so small an opening makes it."
        return "The picture is soft all over, and the camera may have moved."

    def say(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        if "blur_px" in numbers and min(numbers["blur_px"]) > SOFT_PX:
            return self.soft.format_map(numbers)
        nowhere = "wanted" not in numbers or max(numbers["sharp"]) <= NOTHING_SHARP
        return (self.nowhere if nowhere else self.wording).format_map(numbers)

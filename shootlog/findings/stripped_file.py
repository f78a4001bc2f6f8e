"""The file has lost what the camera wrote. Says how to send the original, way by way.

Only a file with no exposure data at all is one; a manual lens leaves the exposure time, an old
camera leaves its name. A claim like this about an original would hurt.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shootlog.findings.base import Finding
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import say

WAYS = (
    say("From a chat: send it again as a file or document, not as a photo."),
    say("By mail: attach the file and choose the original or actual size."),
    say("From a phone: share the original with all its photo data, not a screenshot."),
    say("From the camera: copy the file off the card with a reader or a cable."),
    say("From a picture program: send the file the camera made, not an export."),
)


class StrippedFile(Finding):
    slug = "stripped-file"
    topic = "original-file"
    needs_facts = ("file_type",)
    weight = 1.0
    file_trouble = True
    title = "The shooting data is gone"
    why = "Without what the camera wrote, the picture shows but not how it was made."
    wording = say("This file keeps no exposure time, f-number or ISO. The picture is fine.")
    remedy = say("Send the original file, straight from the camera or its card.")

    fires_on = sample(file_type="JPEG", has_exif=False, has_exposure=False)
    quiet_on = sample(file_type="JPEG", has_exif=True, has_exposure=True, make="A", model="B")

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        named = bool(reading.fact("make") or reading.fact("model"))
        kept = bool(reading.fact("has_exposure"))
        return {"exposure_kept": float(kept), "camera_named": float(named)}

    def is_raised(self, numbers: Mapping[str, float]) -> bool | None:
        if numbers["exposure_kept"]:
            return False
        return None if numbers["camera_named"] else True

    def undecided(self, reading: Reading, numbers: object) -> str:
        return "The camera is named but no exposure is: some old cameras write so little."

    def steps(self, reading: Reading) -> Sequence[str]:
        return WAYS

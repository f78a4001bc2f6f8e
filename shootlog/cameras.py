"""How wide the sensor is: every route there, best first. Pure: no Django.

The camera table is the Lensfun database (CC BY-SA 3.0), read as data out of the installed wheel:
nothing compiled is imported and nothing is copied into this repository. Without the wheel that
route is just missing. Only exact matches count: its loose search finds another phone for every
phone. Which route to trust, and when to ask, was measured on 377 models: see `settle`.
"""

from __future__ import annotations

import importlib.util
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

from shootlog.recorded import Recorded

CREDIT = "Lensfun database, CC BY-SA 3.0"
DISAGREE = 0.08  # routes further apart than this are shown side by side and asked about
FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
SENSOR_ASPECTS = (3 / 2, 4 / 3)
SAME_ASPECT = 0.02
FOUR_THIRDS_MOUNTS = frozenset({"Micro 4/3 System", "4/3 System", "Fujifilm G", "Mamiya 645"})
COMPACT_MOUNT = re.compile(r"^[a-z]")  # the table names a fixed lens's mount like a variable
TABLE_TOLERANCE = 0.01
TAG_35MM_TOLERANCE = 0.05  # makers round, and write 1.5 for 1.53
FOCAL_PLANE_TOLERANCE = 0.02
CROP_MODE = (1.5, 1.65)  # Canon 1.6, others 1.5; smaller in-camera sizes are 1.4 and 2.0
CROP_MODE_MAKERS = ("CANON", "SONY", "NIKON")


@dataclass(frozen=True)
class Candidate:
    """One route to the sensor's long side."""

    width_mm: float
    low: float
    high: float
    origin: str  # "told", "worked out" or "recorded"
    from_: str


@dataclass(frozen=True)
class Camera:
    """One entry of the camera table."""

    crop_factor: float
    mount: str
    variant: str | None = None

    @property
    def aspect(self) -> float | None:
        """The shape of a variant like "16:9"; None where the variant names something else."""
        match = re.fullmatch(r"(\d+):(\d+)", self.variant or "")
        return int(match[1]) / int(match[2]) if match else None


def sensor_width_candidates(recorded: Recorded, told_mm: float | None = None) -> list[Candidate]:
    """Return every route to the sensor's width, best first.

    In order: what the owner set for this body; the camera table, exact match only; 35 mm
    equivalent over focal length; the focal-plane tag, but only where one of the former two
    supports it, or where it shows the crop mode of a full-frame body.
    """
    routes = []
    if told_mm is not None:
        routes.append(Candidate(told_mm, told_mm, told_mm, "told", "set for this body"))
    table = _from_table(recorded)
    if table is not None:
        routes.append(table)
    equivalent = _from_35mm(recorded)
    if equivalent is not None:
        routes.append(equivalent)
    plane = _from_focal_plane(recorded, table, equivalent)
    if plane is not None:
        routes.append(plane)
    return routes


def settle(candidates: Sequence[Candidate]) -> tuple[Candidate | None, list[Candidate]]:
    """Return the width to use and the routes that contradict it by more than 8 %.

    A told width settles the matter. With rivals the width is a range over all of them: crop mode,
    digital zoom or an edited file, and only the owner can say which.
    """
    if not candidates:
        return None, []
    best = candidates[0]
    if best.origin == "told":
        return best, []
    rivals = [c for c in candidates[1:] if differ(best.width_mm, c.width_mm)]
    if not rivals:
        return best, []
    low = min(c.low for c in (best, *rivals))
    high = max(c.high for c in (best, *rivals))
    return replace(best, low=low, high=high), rivals


def differ(one_mm: float, other_mm: float) -> bool:
    return abs(one_mm - other_mm) > DISAGREE * max(one_mm, other_mm)


def _from_table(recorded: Recorded) -> Candidate | None:
    cameras = _fitting(find_cameras(recorded.make, recorded.model), _shape(recorded))
    if not cameras:
        return None
    widths = [_widths_mm(c.crop_factor, recorded, c) for c in cameras]
    low = min(low for low, _ in widths) * (1 - TABLE_TOLERANCE)
    high = max(high for _, high in widths) * (1 + TABLE_TOLERANCE)
    crops = ", ".join(sorted({f"{c.crop_factor:g}" for c in cameras}))
    middle = sum(widths[0]) / 2
    return Candidate(middle, low, high, "worked out", f"camera table, crop factor {crops}")


def _fitting(cameras: Sequence[Camera], shape: float | None) -> Sequence[Camera]:
    """Of variants by shape ("4:3", "16:9") return the one that fits the picture's sides."""
    fitting = [c for c in cameras if shape and c.aspect and _same(shape, c.aspect)]
    return fitting or cameras


def _from_35mm(recorded: Recorded) -> Candidate | None:
    equivalent, focal = recorded.focal_length_35mm, recorded.focal_length_mm
    if not equivalent or not focal:
        return None
    crop = equivalent / focal
    if not 0.2 <= crop <= 50:  # from large format to the smallest phone
        return None
    low, high = _widths_mm(crop, recorded, None)
    rounding = 0.5 / equivalent + TAG_35MM_TOLERANCE
    words = f"35 mm equivalent {equivalent:g} mm over focal length {focal:g} mm"
    middle = (low + high) / 2
    return Candidate(middle, low * (1 - rounding), high * (1 + rounding), "worked out", words)


def _from_focal_plane(
    recorded: Recorded, table: Candidate | None, equivalent: Candidate | None
) -> Candidate | None:
    """Trust the focal-plane tag only with support: half of all files carry a stale one."""
    width = recorded.focal_plane_width_mm
    sides = (recorded.recorded_width_px, recorded.recorded_height_px)
    if width is None:
        return None
    if sides[0] and sides[1] and sides[1] > sides[0]:  # the tag speaks of the short side here
        width = width * sides[1] / sides[0]
    words = "focal-plane resolution"
    supported = any(
        not differ(width, other.width_mm) for other in (table, equivalent) if other is not None
    )
    if not supported and not _shows_crop_mode(recorded, width, table):
        return None
    if not supported:
        words += " (shows a crop mode of the body)"
    spread = width * FOCAL_PLANE_TOLERANCE
    return Candidate(width, width - spread, width + spread, "recorded", words)


def _shows_crop_mode(recorded: Recorded, width: float, table: Candidate | None) -> bool:
    full_frame = table is not None and 35 <= table.width_mm <= 37
    maker = (recorded.make or "").upper().startswith(CROP_MODE_MAKERS)
    return bool(
        full_frame and maker and table and CROP_MODE[0] <= table.width_mm / width <= CROP_MODE[1]
    )


def _widths_mm(crop: float, recorded: Recorded, camera: Camera | None) -> tuple[float, float]:
    """Return the least and greatest long side of a sensor with this crop factor.

    The factor compares diagonals, so the sides depend on the sensor's shape. Where neither the
    mount nor the picture's own shape tells it, both usual shapes count.
    """
    diagonal = FULL_FRAME_DIAGONAL_MM / crop
    widths = [
        diagonal * aspect / math.hypot(aspect, 1) for aspect in _aspects(_shape(recorded), camera)
    ]
    return min(widths), max(widths)


def _aspects(shape: float | None, camera: Camera | None) -> tuple[float, ...]:
    if camera and camera.aspect:
        return (camera.aspect,)
    if camera and camera.mount in FOUR_THIRDS_MOUNTS:
        return (4 / 3,)
    if camera and camera.mount and not COMPACT_MOUNT.match(camera.mount):
        return (3 / 2,)
    return tuple(a for a in SENSOR_ASPECTS if shape and _same(shape, a)) or SENSOR_ASPECTS


def _shape(recorded: Recorded) -> float | None:
    """Return long side over short side of the picture the camera made."""
    for sides in (
        (recorded.recorded_width_px, recorded.recorded_height_px),
        (recorded.width_px, recorded.height_px),
    ):
        if sides[0] and sides[1]:
            return max(sides[0], sides[1]) / min(sides[0], sides[1])
    return None


def _same(one: float, other: float) -> bool:
    return abs(one / other - 1) < SAME_ASPECT


def find_cameras(make: str | None, model: str | None) -> tuple[Camera, ...]:
    """Return the table's entries for exactly this make and model; several for variants."""
    if not make or not model:
        return ()
    return camera_table().get((_plain(make), _plain(model)), ())


@cache
def camera_table() -> dict[tuple[str, str], tuple[Camera, ...]]:
    """Read the table once per process; empty where the wheel is not installed."""
    table: dict[tuple[str, str], tuple[Camera, ...]] = {}
    folder = _table_folder()
    for path in sorted(folder.glob("*.xml")) if folder else ():
        for block in re.findall(r"<camera>.*?</camera>", path.read_text("utf-8"), re.DOTALL):
            entry = ElementTree.fromstring(block)  # noqa: S314 - a file of an installed package
            camera = Camera(
                crop_factor=float(entry.findtext("cropfactor", "0")),
                mount=entry.findtext("mount", ""),
                variant=entry.findtext("variant"),
            )
            if camera.crop_factor <= 0:
                continue
            for make in {_plain(m.text or "") for m in entry.findall("maker")}:
                for model in {_plain(m.text or "") for m in entry.findall("model")}:
                    table[make, model] = (*table.get((make, model), ()), camera)
    return table


def _table_folder() -> Path | None:
    spec = importlib.util.find_spec("lensfunpy")  # finds the folder, imports nothing
    places = spec.submodule_search_locations if spec else None
    return Path(places[0]) / "db_files" if places else None


def _plain(text: str) -> str:
    return " ".join(text.lower().split())

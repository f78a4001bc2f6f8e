"""Pixels per millimetre from a frame of a ruler: no database, no server."""

import json
import math
from pathlib import Path

from django.core.management.base import BaseCommand

from optics.evidence.ruler import NoScale, tick_spacing
from shootlog.intake.shots import open_luma
from shootlog.intake.tags import Unreadable, read_recorded
from shootlog.work_out import work_out

WORK_PX = 2048
KEYS = ("px_per_mm", "low", "high", "angle_deg", "tilt_deg", "magnification")


class Command(BaseCommand):
    help = "Find the millimetre ticks of a ruler and say how many pixels a millimetre has."
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("files", nargs="+", metavar="FILE")

    def handle(self, *args, **options):
        unreadable = False
        for file in options["files"]:
            line = {"file": file} | dict.fromkeys(KEYS)
            try:
                line |= ruler_of(Path(file))
            except NoScale as reason:
                line["reason"] = f"No scale was found: {reason}."
            except Unreadable as trouble:
                line["error"] = str(trouble)
                unreadable = True
            self.stdout.write(json.dumps(line, ensure_ascii=False, allow_nan=False))
        if unreadable:
            raise SystemExit(1)


def ruler_of(path):
    """Return the measured values of one frame, rounded."""
    recorded = read_recorded(path)
    luma, size = open_luma(path, WORK_PX)
    factor = max(size) / max(luma.shape)
    if min(luma.shape) < 32:
        raise NoScale("the picture is too small")
    ticks = tick_spacing(luma)
    reading = work_out(recorded)
    px = ticks.px_per_mm * factor
    tilt_deg = _tilt(ticks, factor, reading)
    # seen aslant, a millimetre looks shorter than it is
    straight = px / math.cos(math.radians(tilt_deg)) if tilt_deg is not None else px
    low, high = (px * end / ticks.spacing_px for end in (ticks.low_px, ticks.high_px))
    pixel_um = _pixel_um(reading, recorded, size)
    return {
        "px_per_mm": round(px, 4),
        "low": round(low, 4),
        "high": round(high, 4),
        "angle_deg": round(ticks.angle_deg, 2),
        "tilt_deg": None if tilt_deg is None else round(tilt_deg, 1),
        "magnification": None if pixel_um is None else round(straight * pixel_um / 1000, 5),
        "ticks": ticks.ticks,
        "tick_mm": ticks.tick_mm,
    }


def _pixel_um(reading, recorded, size):
    """Sensor width under one pixel of this file."""
    known = reading.value("file_pixel_um")
    if known:
        return known
    width_mm = reading.value("sensor_width_mm")
    return 1000 * width_mm / max(size) if width_mm else None


def _tilt(ticks, factor, reading):
    """Tilt along the ruler, from how the spacing changes and the image distance in pixels."""
    focal_mm, pixel_um = reading.value("focal_length_mm"), reading.value("file_pixel_um")
    if not focal_mm or not pixel_um:
        return None
    magnification = ticks.px_per_mm * factor * pixel_um / 1000
    image_distance_px = 1000 * focal_mm * (1 + magnification) / pixel_um
    return math.degrees(math.atan(abs(ticks.perspective_per_px) / factor * image_distance_px))

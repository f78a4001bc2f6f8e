"""A set-up seen from the side, drawn to scale, and its curves. Pure: numbers for the SVG.

Everything is worked out in millimetres and only then scaled, so that a drawing cannot lie.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from shootlog.what_if import STOPS, Asked, Found, what_if
from shootlog.wording import f_number, figures

WIDTH = 480.0  # of every drawing, in its own units
MARGIN = 14.0
THINNEST = 1.5  # a depth thinner than a hair is drawn as one; the words say how thin it is
ROUND_MM = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
MOST_SLICES = 60  # more lines than that are one grey


@dataclass(frozen=True)
class SideView:
    """Sensor, lens plane, free distance and subject, in drawing units."""

    height: float
    axis: float
    sensor_x: float
    sensor_half: float
    lens_x: float
    lens_half: float
    rim_x: float
    front_x: float
    back_x: float
    focus_x: float
    band_x: float
    band_width: float
    subject_half: float
    bar_mm: int
    bar_end: float
    units_per_mm: float
    sensor_to_lens_mm: float
    free_mm: float
    words: str

    @property
    def subject_width(self) -> float:
        return max(self.back_x - self.front_x, 1.0)

    @property
    def bar_y(self) -> float:
        return self.height - 12.0

    @property
    def subject_top(self) -> float:
        return self.axis - self.subject_half

    @property
    def subject_height(self) -> float:
        return 2.0 * self.subject_half

    @property
    def rays(self) -> str:
        """From the subject's edges through the middle of the lens to the sensor's."""
        return " ".join(
            f"M{self.sensor_x:.1f} {self.axis + side * self.sensor_half:.1f}"
            f"L{self.lens_x:.1f} {self.axis:.1f}"
            f"L{self.focus_x:.1f} {self.axis - side * self.subject_half:.1f}"
            for side in (1, -1)
        )

    @property
    def sensor(self) -> str:
        top, bottom = self.axis - self.sensor_half, self.axis + self.sensor_half
        return f"M{self.sensor_x:.1f} {top:.1f}V{bottom:.1f}"

    @property
    def glass(self) -> str:
        """The lens as a plain lens, at its front principal plane."""
        half, long = self.lens_half, 2.0 * self.lens_half
        top = f"M{self.lens_x:.1f} {self.axis - half:.1f}"
        return f"{top}q9 {half:.1f} 0 {long:.1f}q-9 {-half:.1f} 0 {-long:.1f}z"

    @property
    def free_line(self) -> str:
        return f"M{self.rim_x:.1f} {self.axis:.1f}H{self.focus_x:.1f}"

    @property
    def barrel(self) -> str:
        """From the lens's plane to its rim, where the rim is told and stands in front."""
        if self.rim_x <= self.lens_x + 1.0:
            return ""
        top, bottom = self.axis - self.lens_half, self.axis + self.lens_half
        return f"M{self.lens_x:.1f} {top:.1f}H{self.rim_x:.1f}V{bottom:.1f}H{self.lens_x:.1f}"


def side_view(asked: Asked, found: Found) -> SideView:
    """Draw the thin lens of this set-up, with its rim where that is told."""
    together = 1.0 / (1.0 / asked.focal_length_mm + asked.close_up_dioptre / 1000.0)
    along = found.lens_to_subject_mm
    behind = along * found.magnification
    half_depth = asked.subject_depth_mm / 2.0
    subject_half_mm = found.frame_width_mm / 2.0
    long = behind + along + half_depth
    scale = (WIDTH - 2 * MARGIN) / long
    half_mm = max(subject_half_mm, asked.sensor_width_mm / 2.0, together / 4.0)
    height = 2.0 * half_mm * scale + 70.0
    bar_mm = max((mm for mm in ROUND_MM if mm * scale < WIDTH / 3), default=1)
    lens_x = MARGIN + behind * scale
    focus_x = lens_x + along * scale
    band = max(found.depth_mm * scale, THINNEST)
    return SideView(
        height=height,
        axis=(height - 30.0) / 2.0,
        sensor_x=MARGIN,
        sensor_half=asked.sensor_width_mm / 2.0 * scale,
        lens_x=lens_x,
        lens_half=together / 4.0 * scale,
        rim_x=focus_x - found.free_mm * scale,
        front_x=focus_x - half_depth * scale,
        back_x=focus_x + half_depth * scale,
        focus_x=focus_x,
        band_x=focus_x - band / 2.0,
        band_width=band,
        subject_half=subject_half_mm * scale,
        bar_mm=bar_mm,
        bar_end=MARGIN + bar_mm * scale,
        units_per_mm=scale,
        sensor_to_lens_mm=behind,
        free_mm=found.free_mm,
        words=_side_words(asked, found, behind),
    )


def _side_words(asked: Asked, found: Found, behind: float) -> str:
    """The drawing as a sentence, for those who cannot see it and those who want the numbers."""
    if asked.rim_mm is None:
        free = f"{figures(found.free_mm)} mm from there to the subject"
    else:
        what = "close-up lens" if asked.close_up_dioptre else "rim"
        free = f"{figures(found.free_mm)} mm free from its {what} to the subject"
    return (
        f"{figures(behind)} mm from the sensor to the lens’s own plane, {free}. The frame is "
        f"{figures(found.frame_width_mm)} mm wide there; the subject is "
        f"{asked.subject_depth_mm:g} mm deep, and one frame holds {figures(found.depth_mm)} mm."
    )


@dataclass(frozen=True)
class DepthBand:
    """The subject's depth from the side, and how much of it each frame holds."""

    subject_x: float
    subject_width: float
    bands: list[tuple[float, float]]  # left end and width
    bar_mm: float
    bar_end: float
    bar_start: float


def depth_band(asked: Asked, found: Found) -> DepthBand:
    """Draw the depth, the slices that hold it, one next to the other."""
    held = found.depth_mm + (found.frames - 1) * found.step_mm
    long = max(asked.subject_depth_mm, held)
    scale = (WIDTH - 2 * MARGIN) / long
    start = MARGIN + (long - held) / 2.0 * scale
    shown = found.frames if found.frames <= MOST_SLICES else 0
    bar_mm = max((mm / 10 for mm in ROUND_MM if mm / 10 * scale < WIDTH / 2), default=0.1)
    return DepthBand(
        subject_x=MARGIN + (long - asked.subject_depth_mm) / 2.0 * scale,
        subject_width=asked.subject_depth_mm * scale,
        bands=[(start + k * found.step_mm * scale, found.depth_mm * scale) for k in range(shown)],
        bar_mm=bar_mm,
        bar_start=MARGIN,
        bar_end=MARGIN + bar_mm * scale,
    )


# --- depth and blur against the f-number ---

PLOT_LEFT, PLOT_RIGHT = 58.0, 466.0
PANEL_TOP, PANEL_HEIGHT, PANEL_GAP = 22.0, 130.0, 46.0


@dataclass(frozen=True)
class Panel:
    """One curve on a logarithmic paper, with the line it is read against."""

    title: str
    top: float
    points: str
    dots: list[tuple[float, float]]
    line_y: float | None
    line_words: str
    ticks: list[tuple[float, str]]

    @property
    def line_words_dy(self) -> int:
        """Over the line, or under it where the panel's title stands just above."""
        return 15 if self.line_y is not None and self.line_y - self.top < 16 else -5

    @property
    def bottom(self) -> float:
        return self.top + PANEL_HEIGHT


@dataclass(frozen=True)
class Curves:
    """Both panels over one row of f-numbers, and the table that says the same."""

    panels: list[Panel]
    stops: list[tuple[float, str]]
    best_x: float | None
    best_words: str
    table: list[dict[str, str]]
    height: float = PANEL_TOP + 2 * PANEL_HEIGHT + PANEL_GAP + 30.0


def curves(asked: Asked) -> Curves:
    """Work out depth of one frame and blur at the subject's ends for every stop."""
    at = [(stop, what_if(replace(asked, f_number=stop))) for stop in STOPS]
    best = at[0][1].best_f_number
    within = STOPS[0] <= best <= STOPS[-1]
    sharpest = min(at, key=lambda one: one[1].blur_um)[0]
    table = [
        {
            "stop": f_number(stop),
            "effective": f_number(found.effective_f_number),
            "depth": f"{figures(found.depth_mm)} mm",
            "blur": f"{figures(found.blur_um)} µm",
            "frames": str(found.frames),
            "best": "least blur" if stop == sharpest else "",
        }
        for stop, found in at
    ]
    depths = _panel(
        "Depth of one frame, mm",
        PANEL_TOP,
        [(stop, found.depth_mm) for stop, found in at],
        asked.subject_depth_mm,
        "the subject",
    )
    blurs = _panel(
        "Blur at its ends in one frame, µm",
        PANEL_TOP + PANEL_HEIGHT + PANEL_GAP,
        [(stop, found.blur_um) for stop, found in at],
        at[0][1].coc_um,
        "what is allowed",
    )
    return Curves(
        panels=[depths, blurs],
        stops=[(_x(stop), f_number(stop).removeprefix("f/")) for stop in STOPS],
        best_x=_x(best) if within else None,
        best_words=_best_words(best),
        table=table,
    )


def _best_words(best: float) -> str:
    if best > STOPS[-1]:
        return f"One frame would want {f_number(best)} on the ring, past the end: take slices."
    if best < STOPS[0]:
        return f"The depth is so small that {f_number(STOPS[0])} and wider are best for it."
    return f"Both ends are sharpest in one frame near {f_number(best)} on the ring."


def _x(stop: float) -> float:
    share = math.log(stop / STOPS[0]) / math.log(STOPS[-1] / STOPS[0])
    return PLOT_LEFT + share * (PLOT_RIGHT - PLOT_LEFT)


def _panel(
    title: str, top: float, values: list[tuple[float, float]], line: float, words: str
) -> Panel:
    everything = [value for _, value in values] + [line]
    low = math.floor(math.log10(min(everything)) * 2) / 2
    high = math.ceil(math.log10(max(everything)) * 2) / 2
    high = max(high, low + 0.5)

    def y(value: float) -> float:
        return top + PANEL_HEIGHT * (high - math.log10(value)) / (high - low)

    dots = [(_x(stop), y(value)) for stop, value in values]
    ticks = [
        step * 10.0**power
        for power in range(math.floor(low), math.ceil(high) + 1)
        for step in (1, 3)
    ]
    return Panel(
        title=title,
        top=top,
        points=" ".join(f"{x:.1f},{y_:.1f}" for x, y_ in dots),
        dots=dots,
        line_y=y(line),
        line_words=words,
        ticks=[
            (y(tick), f"{tick:g}")
            for tick in ticks
            if low - 1e-9 <= math.log10(tick) <= high + 1e-9
        ],
    )

"""Every route to the magnification, best first, each with its range. Pure: no Django, no files.

The recorded distance is the last resort: near life size its error has no bound, and lenses that
focus inside shorten as they do, by an amount no tag tells. So it comes out as a range.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from optics.conjugates import magnification_from_distance
from shootlog.lenses import find_lens
from shootlog.reading import Origin, Quantity, Route
from shootlog.recorded import Recorded
from shootlog.set_up import SetUp
from shootlog.wording import ratio

RULER_TOLERANCE = 0.03  # two taps on a ruler; common practice, no source
TAG_TOLERANCE = 0.03  # the one maker's tag known steps by 2^(3/40), 5.3 %
RING_TOLERANCE = 0.05  # reading between the marks; common practice, no source
DISTANCE_TOLERANCE = 0.03  # half of a 5.9 % step of the coarsest maker's scale
DISTANCE_ROUNDING_MM = 5.0  # half of the 1 cm the others write
LENS_FRONT_MM = 60.0  # cameras with a fixed lens may count from its front
PRINCIPAL_PLANES = 0.3  # their distance, in focal lengths, either way: computed designs
SHORTENING = 0.4  # focal length lost by life size, at most: patents and tube tables
ORDINARY_REACH = 0.35  # what an ordinary lens reaches by itself; common practice, no source
MACRO_REACH = 1.0
MACRO_NAME = re.compile(r"macro|micro|makro|\bMC\b", re.IGNORECASE)
NEAR_FIELD = 0.01  # below this nothing here calls for a question


@dataclass(frozen=True)
class Span:
    """A range that may have a best number in it."""

    low: float
    mid: float | None
    high: float


@dataclass(frozen=True)
class Accessories:
    """What stands between and before the lens, as told."""

    tube_mm: float = 0.0
    dioptre: float = 0.0
    converter: float = 1.0

    @property
    def any(self) -> bool:
        return self != Accessories()

    def added(
        self, lens_magnification: float, focal_mm: float, *, tube_last: bool = False
    ) -> float:
        """Return the magnification with everything mounted.

        With a close-up lens the two act as one lens of shorter focal length. A tube between
        converter and body (`tube_last`) adds less than one between converter and lens.
        """
        with_close_up = lens_magnification + focal_mm * (1 + lens_magnification) * (
            self.dioptre / 1000
        )
        combined_mm = 1 / (1 / focal_mm + self.dioptre / 1000)
        if tube_last:
            return self.converter * with_close_up + self.tube_mm / (self.converter * combined_mm)
        return self.converter * (with_close_up + self.tube_mm / combined_mm)

    def taken_away(self, magnification: float, focal_mm: float) -> float:
        """Return what the lens alone does of a magnification measured with everything mounted."""
        combined_mm = 1 / (1 / focal_mm + self.dioptre / 1000)
        with_close_up = magnification / self.converter - self.tube_mm / combined_mm
        reach = focal_mm * self.dioptre / 1000
        return max(0.0, (with_close_up - reach) / (1 + reach))


@dataclass(frozen=True)
class Found:
    """What the routes gave: the one used, the lens's own part of it, and all of them."""

    magnification: Quantity | None
    lens_alone: Span | None
    accessories: Accessories
    focal_mm: Span | None
    routes: Sequence[Route]
    disagreement: str | None


def find_magnification(
    recorded: Recorded,
    set_up: SetUp,
    *,
    in_frame_px_per_mm: Span | None = None,
    file_pixel_um: Span | None = None,
) -> Found:
    """Take every route there is; the first that gives a number is used."""
    accessories = Accessories(
        set_up.tube_mm or 0.0, set_up.close_up_dioptre or 0.0, set_up.teleconverter or 1.0
    )
    focal = _focal_length(recorded, set_up)
    routes: list[tuple[str, Span | None, Quantity | None, str]] = []

    def from_lens(
        name: str, lens: Span | None, words: str, origin: Origin, basis: tuple[Origin, ...]
    ) -> None:
        """Add a route that knows what the lens alone does."""
        if lens is None:
            routes.append((name, None, None, words))
        elif not accessories.any:
            found = _quantity(lens, origin, words, basis)
            routes.append((name, lens, found, words))
        elif set_up.reversed or focal is None:
            why = "lens reversed" if set_up.reversed else "focal length not known"
            routes.append((name, None, None, f"{words}, but {why}: a ruler frame would tell"))
        else:
            words = f"{words}, with {_named(accessories)}"
            total = _with_accessories(lens, accessories, focal)
            found = _quantity(total, "worked out", words, (*basis, "told"))
            routes.append((name, lens, found, words))

    for name, total, words in _ruler_routes(set_up, in_frame_px_per_mm, file_pixel_um):
        lens = _lens_part(total, accessories, focal)
        found = _quantity(total, "measured", words, ("measured",))
        routes.append((name, lens, found, words))
    from_lens("maker's tag", *_maker_tag(recorded), "recorded", ("recorded",))
    if set_up.reversed:
        routes.append(("ring mark", None, None, "a reversed lens leaves its marks without meaning"))
    else:
        from_lens("ring mark", *_ring(set_up), "told", ("told",))
        distance, words = _distance(recorded, focal)
        from_lens("distance", distance, words, "worked out", ("recorded", "assumed"))
        if accessories.any and distance is None and set_up.ring_magnification is None:
            from_lens("tubes", *_reach(recorded, set_up), "worked out", ("told", "assumed"))
    used = next((k for k, route in enumerate(routes) if route[2] is not None), None)
    kept = [Route(r[0], r[2], r[3], used=k == used) for k, r in enumerate(routes)]
    chosen = routes[used] if used is not None else None
    return Found(
        magnification=chosen[2] if chosen else None,
        lens_alone=chosen[1] if chosen else None,
        accessories=accessories,
        focal_mm=focal,
        routes=kept,
        disagreement=_disagreement(kept),
    )


def _quantity(span: Span, origin: Origin, words: str, basis: tuple[Origin, ...]) -> Quantity | None:
    if span.high <= 0:
        return None
    return Quantity(span.mid, span.low, span.high, origin, words, tuple(dict.fromkeys(basis)))


def _around(value: float, tolerance: float) -> Span:
    return Span(value * (1 - tolerance), value, value * (1 + tolerance))


def _focal_length(recorded: Recorded, set_up: SetUp) -> Span | None:
    """Return the lens's own focal length; a converter may or may not be in the recorded one."""
    if set_up.focal_length_mm:
        return Span(set_up.focal_length_mm, set_up.focal_length_mm, set_up.focal_length_mm)
    value = recorded.focal_length_mm
    if not value or not 0.5 <= value <= 5000:
        return None
    if set_up.teleconverter and set_up.teleconverter > 1:
        return Span(value / set_up.teleconverter, None, value)
    return Span(value, value, value)


def shortened(focal_mm: float, lens_magnification: float) -> float:
    """Return the shortest focal length a lens of unknown design may have, focused so close."""
    return focal_mm * (1 - SHORTENING * min(1.0, lens_magnification))


def _with_accessories(lens: Span, accessories: Accessories, focal: Span) -> Span:
    """Add tubes, close-up lenses and converters; each end with the focal length that serves it.

    A shorter focal length makes more of a tube and less of a close-up lens, so all are tried.
    """
    ends = [
        accessories.added(m, f, tube_last=last)
        for m in (lens.low, lens.high)
        for f in (shortened(focal.low, m), focal.high)
        for last in (False, True)
    ]
    mid = None
    if lens.mid is not None and focal.mid is not None:
        mid = accessories.added(lens.mid, focal.mid)
    return Span(min(ends), mid, max(ends))


def _lens_part(total: Span, accessories: Accessories, focal: Span | None) -> Span | None:
    """Return what the lens alone does of a measured magnification."""
    if not accessories.any:
        return total
    if focal is None:
        return Span(0.0, None, total.high)
    ends = [
        accessories.taken_away(m, f)
        for m in (total.low, total.high)
        for f in (focal.low * (1 - SHORTENING), focal.high)
    ]
    mid = None
    if total.mid is not None and focal.mid is not None:
        mid = accessories.taken_away(total.mid, focal.mid)
    return Span(min(ends), mid, max(ends))


def _ruler_routes(
    set_up: SetUp, px_per_mm: Span | None, file_pixel_um: Span | None
) -> list[tuple[str, Span, str]]:
    routes = []
    told = set_up.ruler_magnification
    if told:
        span = _around(told, RULER_TOLERANCE)
        if set_up.ruler_low and set_up.ruler_high:
            span = Span(min(set_up.ruler_low, told), told, max(set_up.ruler_high, told))
        routes.append(("ruler frame", span, "ruler frame of this set-up"))
    if px_per_mm and file_pixel_um:
        best = None
        if px_per_mm.mid is not None and file_pixel_um.mid is not None:
            best = px_per_mm.mid * file_pixel_um.mid / 1000
        low = px_per_mm.low * file_pixel_um.low / 1000
        high = px_per_mm.high * file_pixel_um.high / 1000
        routes.append(
            ("ruler in the frame", Span(low, best, high), "millimetre ticks in this frame")
        )
    return routes


def _maker_tag(recorded: Recorded) -> tuple[Span | None, str]:
    value = recorded.maker_magnification
    if not value or not 0.001 <= value <= 100:
        return None, "the maker wrote none"
    tag = recorded.origins.get("maker_magnification", "maker's tag")
    return _around(value, TAG_TOLERANCE), f"{tag}"


def _ring(set_up: SetUp) -> tuple[Span | None, str]:
    value = set_up.ring_magnification
    if value is None:
        return None, "no mark told"
    return _around(value, RING_TOLERANCE), f"mark on the ring, {ratio(value) if value else '0'}"


def _reach(recorded: Recorded, set_up: SetUp) -> tuple[Span | None, str]:
    """Return all the lens may do by itself when nobody said where its ring stood."""
    name = set_up.lens or recorded.lens or ""
    known = find_lens(name)
    reach = MACRO_REACH if MACRO_NAME.search(name) else ORDINARY_REACH
    if known and known.largest_ratio:
        reach = known.largest_ratio
    return Span(0.0, None, reach), f"lens anywhere from infinity to {ratio(reach)}"


def _distance(recorded: Recorded, focal: Span | None) -> tuple[Span | None, str]:
    """Solve focal length and recorded distance, with all that is not known about the lens."""
    ends = _distance_ends(recorded)
    if ends is None:
        return None, "no distance recorded"
    if focal is None:
        return None, "no focal length recorded"
    words = f"recorded distance {ends[1] / 1000:.2g} m and focal length {focal.high:.0f} mm"
    near_mm, best_mm, far_mm = ends
    low = _smallest(far_mm, focal.low)
    if low is None:
        return None, f"{words} do not fit any one lens"
    planes_mm = PRINCIPAL_PLANES * focal.high
    high = 1.0
    if near_mm - planes_mm >= 4 * focal.high:
        high = magnification_from_distance(near_mm, focal.high, planes_mm)
    best = None
    if focal.mid is not None and best_mm >= 4 * focal.mid:
        best = magnification_from_distance(best_mm, focal.mid)
    if best is None:
        words += ": the lens shortens as it focuses, so only a range"
    return Span(min(low, high), best, high), words


def _distance_ends(recorded: Recorded) -> tuple[float, float, float] | None:
    metres = recorded.subject_distance_m or recorded.maker_focus_distance_m
    low_m, high_m = recorded.maker_focus_distance_low_m, recorded.maker_focus_distance_high_m
    if not metres and low_m and high_m:
        metres = (low_m + high_m) / 2
    if not metres or not 0.01 <= metres < 1000:
        return None
    best = metres * 1000
    slack = max(best * DISTANCE_TOLERANCE, DISTANCE_ROUNDING_MM)
    near, far = best - slack, best + slack
    if low_m and high_m and low_m <= metres <= high_m < 1000:
        near, far = min(near, low_m * 1000), max(far, high_m * 1000)
    if recorded.lens is None:
        far += LENS_FRONT_MM
    return max(near, 1.0), best, far


def _smallest(far_mm: float, focal_mm: float) -> float | None:
    """Return the smallest magnification that fits: farthest away, lens shortened."""

    def distance_mm(m: float) -> float:
        return shortened(focal_mm, m) * (2 + m + 1 / m) - PRINCIPAL_PLANES * focal_mm

    if distance_mm(1.0) > far_mm:
        return None
    low, high = 1e-6, 1.0
    for _ in range(40):
        middle = (low * high) ** 0.5
        low, high = (middle, high) if distance_mm(middle) > far_mm else (low, middle)
    return high


def _named(accessories: Accessories) -> str:
    parts = []
    if accessories.tube_mm:
        parts.append(f"{accessories.tube_mm:g} mm of tube")
    if accessories.dioptre:
        parts.append(f"+{accessories.dioptre:g} close-up lens")
    if accessories.converter != 1.0:
        parts.append(f"{accessories.converter:g}x converter")
    return " and ".join(parts)


def _disagreement(routes: Sequence[Route]) -> str | None:
    """Say which routes contradict the one used."""
    used = next((r for r in routes if r.used), None)
    if used is None or used.magnification is None:
        return None
    mine = used.magnification
    others = [
        r
        for r in routes
        if r.magnification
        and not r.used
        and (r.magnification.low > mine.high or r.magnification.high < mine.low)
    ]
    if not others:
        return None
    said = "; ".join(
        f"{r.name} gives {r.magnification.spread:two}" for r in others if r.magnification
    )
    return f"{used.name} gives {mine.spread:two}, but {said}"

"""The gear ladder with one's own lenses: what each way of coming closer brings. Pure.

The rungs are told fairly: what is in the bag comes first, and what is not is shown with the usual
lengths and powers, so that nobody buys a thing to learn what it would have done.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from optics.kit import Body, Lens
from shootlog.planner import MOST_STACKED, MOST_TUBES, USUAL_TUBES_MM, sums_of
from shootlog.what_if import Asked, Found, what_if

USUAL_POWERS_DIOPTRE = (2.0, 4.0)  # as most are sold; common practice, no source
MACRO_FROM = 0.5  # lenses that draw this large alone are sold as macro; common practice, no source


@dataclass(frozen=True)
class Step:
    """One lens with one thing mounted, at its nearest mark."""

    mounted: str
    owned: bool
    farthest: float  # magnification with the ring at its farthest
    nearest: Found


@dataclass(frozen=True)
class Rung:
    """One way of coming closer, what it buys and what it costs, and the numbers of one's lenses."""

    name: str
    buys: str
    costs: str
    steps: list[Step]


def ladder(
    body: Body,
    lenses: Iterable[Lens],
    tubes_mm: Iterable[float] = (),
    powers_dioptre: Iterable[float] = (),
) -> list[Rung]:
    """Return the rungs for these lenses on this body."""
    lenses, tubes, powers = list(lenses), sorted(tubes_mm), sorted(powers_dioptre)
    plain = [lens for lens in lenses if lens.closest_magnification < MACRO_FROM]
    macro = [lens for lens in lenses if lens.closest_magnification >= MACRO_FROM]
    own_tubes = sums_of(tubes[:MOST_TUBES], MOST_TUBES)
    own_powers = sums_of(powers[:MOST_TUBES], MOST_STACKED)
    usual_tubes = (*USUAL_TUBES_MM, sum(USUAL_TUBES_MM))
    return [
        Rung(
            "The lens as it is",
            "Nothing to buy, nothing to mount.",
            "It comes only so near.",
            list(_steps(body, plain, [("", {}, True)])),
        ),
        Rung(
            "Close-up lens",
            "Cheap, light, on in three seconds; no light lost.",
            "A simple one is softer, with coloured edges; one of two glasses is better, dearer.",
            list(
                _steps(
                    body,
                    lenses,
                    [
                        (f"close-up lens +{power:g}", {"close_up_dioptre": power}, bool(powers))
                        for power in own_powers or USUAL_POWERS_DIOPTRE
                    ],
                )
            ),
        ),
        Rung(
            "Tubes",
            "No glass, so nothing that makes the picture worse.",
            "Light, and room in front; focus works only close by.",
            list(
                _steps(
                    body,
                    lenses,
                    [
                        (f"{tube:g} mm of tube", {"tube_mm": tube}, bool(tubes))
                        for tube in own_tubes or usual_tubes
                    ],
                )
            ),
        ),
        Rung(
            "Macro lens",
            "Best close up, from far to near in one turn; a very good portrait lens too.",
            "Dear and heavy.",
            list(_steps(body, macro, [("", {}, True)])),
        ),
    ]


def _steps(
    body: Body, lenses: Iterable[Lens], things: list[tuple[str, dict[str, float], bool]]
) -> Iterator[Step]:
    for lens in lenses:
        for words, mounted, owned in things:
            found = _at(body, lens, lens.closest_magnification, near=True, mounted=mounted)
            if found is None:
                continue  # the subject would stand inside the lens, or nothing near is framed
            far = _at(body, lens, lens.farthest_magnification, near=False, mounted=mounted)
            name = ", ".join(filter(None, [lens.name, words]))
            yield Step(name, owned, far.magnification if far else 0.0, found)


def _at(
    body: Body, lens: Lens, drawn: float, *, near: bool, mounted: dict[str, float]
) -> Found | None:
    focal = (lens.closest_focal_length_mm if near else None) or lens.focal_length_mm
    try:
        return what_if(
            Asked(
                focal_length_mm=focal,
                f_number=8.0,
                sensor_width_mm=body.width_mm,
                sensor_height_mm=body.height_mm,
                subject_depth_mm=1.0,
                lens_magnification=drawn,
                pupil_ratio=lens.pupil_magnification,
                rim_mm=lens.principal_plane_to_rim_mm,
                **mounted,
            )
        )
    except ValueError:
        return None

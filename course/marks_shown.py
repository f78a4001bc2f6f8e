"""Crits' marks as their pages draw them: per frame, in percent of the picture, with words."""

from course.marks import said_aloud, short_mark

SOURCE = "urn:frame:{}"
ARM = 0.25  # of a side, how long a corner stroke is


def source_of(frame_pk):
    return SOURCE.format(frame_pk)


def frame_of(kept):
    """Return the number of the frame that an annotation is on."""
    return int(kept["target"]["source"].rsplit(":", 1)[1])


def marks_shown(crits):
    """Return {frame pk: [mark, ...]}; each mark with its strokes in percent and a number."""
    by_frame = {}
    for crit in crits:
        for kept in crit.marks:
            mark = short_mark(kept)
            frame_pk = frame_of(kept)
            on_frame = by_frame.setdefault(frame_pk, [])
            on_frame.append(
                mark
                | strokes(mark)
                | {"frame": frame_pk, "where": said_aloud(mark), "number": len(on_frame) + 1}
            )
    return by_frame


def strokes(mark):
    """The pencil strokes of a mark: rings, lines, and where its number stands."""
    at = [round(100 * n, 3) for n in mark["at"]]
    if mark["kind"] == "ring":
        x, y, r = at
        return {"rings": [(x, y, r)], "lines": [], "label": (x, y)}
    if mark["kind"] == "corners":
        return {"rings": [], "lines": _corners(*at), "label": (at[0] + 1, at[1])}
    return {"rings": [], "lines": [tuple(at)], "label": (at[0], at[1])}


def _corners(x, y, w, h):
    """Eight short strokes, two at each corner, as picture editors mark a crop."""
    right, bottom, dx, dy = x + w, y + h, w * ARM, h * ARM
    return [
        (x, y, x + dx, y),
        (x, y, x, y + dy),
        (right, y, right - dx, y),
        (right, y, right, y + dy),
        (x, bottom, x + dx, bottom),
        (x, bottom, x, bottom - dy),
        (right, bottom, right - dx, bottom),
        (right, bottom, right, bottom - dy),
    ]

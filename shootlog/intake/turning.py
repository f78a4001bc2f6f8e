"""The eight ways a camera can say 'turn me', applied to points, boxes, directions and arrays.

Points and boxes are shares of the picture, x to the right and y down.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

Box = list[float]

#: As shown: (x from, y from) where "-x" means 1 - x. Exif 2.32, tag Orientation.
SHOWN = {
    1: ("x", "y"),
    2: ("-x", "y"),
    3: ("-x", "-y"),
    4: ("x", "-y"),
    5: ("y", "x"),
    6: ("-y", "x"),
    7: ("-y", "-x"),
    8: ("y", "-x"),
}
UNDONE_BY = {6: 8, 8: 6}
PILLOW = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def point_as_shown(x: float, y: float, orientation: int) -> tuple[float, float]:
    """Turn a point of the stored picture into that of the shown one."""
    parts = {"x": x, "-x": 1.0 - x, "y": y, "-y": 1.0 - y}
    across, down = SHOWN.get(orientation, SHOWN[1])
    return parts[across], parts[down]


def box_as_shown(box: Box, orientation: int) -> Box:
    """Turn [x, y, width, height] of the stored picture into that of the shown one."""
    corners = [
        point_as_shown(box[0], box[1], orientation),
        point_as_shown(box[0] + box[2], box[1] + box[3], orientation),
    ]
    left, right = sorted((corners[0][0], corners[1][0]))
    top, bottom = sorted((corners[0][1], corners[1][1]))
    return [left, top, right - left, bottom - top]


def box_as_stored(box: Box, orientation: int) -> Box:
    return box_as_shown(box, UNDONE_BY.get(orientation, orientation))


def angle_as_shown(angle_deg: float, orientation: int) -> float:
    """Turn a direction, 0 to 180 degrees from x towards y."""
    across, down = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    parts = {"x": across, "-x": -across, "y": down, "-y": -down}
    x, y = (parts[name] for name in SHOWN.get(orientation, SHOWN[1]))
    return math.degrees(math.atan2(y, x)) % 180.0


def array_as_shown(values: npt.NDArray[Any], orientation: int) -> npt.NDArray[Any]:
    x, y = SHOWN.get(orientation, SHOWN[1])
    if "y" in x:
        values = values.T
    if x.startswith("-"):
        values = values[:, ::-1]
    if y.startswith("-"):
        values = values[::-1]
    return np.ascontiguousarray(values)


def picture_as_shown(picture: Image.Image, orientation: int) -> Image.Image:
    how = PILLOW.get(orientation)
    return picture if how is None else picture.transpose(how)

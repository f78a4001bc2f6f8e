"""Parts of a picture at its own pixels, cut on demand from the original and kept.

The first part asked of a frame cuts the whole picture into tiles, since decoding it again for
every part would cost a second each; later parts are put together from the tiles.
"""

import fcntl
import io
import json
import math
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from PIL import Image

from shootlog import store
from shootlog.intake.cage import Broke, cut_in_cage
from shootlog.intake.tiles import QUALITY, TILE_PX
from shootlog.removal import gone

LARGEST_PX = 2048  # of one answer, each way
DONE = "size.json"


class NoCrop(ValueError):
    """The part asked for cannot be cut; the message says why."""


def crop(frame, *, left, top, width, height):
    """Return the part as JPEG bytes; positions in pixels of the picture as it is seen."""
    if width <= 0 or height <= 0 or left < 0 or top < 0:
        raise NoCrop("A crop needs a left, a top, a width and a height above nothing.")
    if width > LARGEST_PX or height > LARGEST_PX:
        raise NoCrop(f"A crop is {LARGEST_PX} pixels wide and high at most.")
    size = _tiles(frame)
    if left >= size["width"] or top >= size["height"]:
        raise NoCrop(f"The picture is {size['width']} x {size['height']} pixels.")
    width, height = min(width, size["width"] - left), min(height, size["height"] - top)
    if left % TILE_PX == 0 and top % TILE_PX == 0 and _is_a_tile(size, left, top, width, height):
        with store.store().open(_key(frame, left // TILE_PX, top // TILE_PX)) as tile:
            return tile.read()
    return _put_together(frame, left, top, width, height)


def _is_a_tile(size, left, top, width, height):
    return width == min(TILE_PX, size["width"] - left) and height == min(
        TILE_PX, size["height"] - top
    )


def _put_together(frame, left, top, width, height):
    part = Image.new("RGB", (width, height))
    for row in range(top // TILE_PX, math.ceil((top + height) / TILE_PX)):
        for column in range(left // TILE_PX, math.ceil((left + width) / TILE_PX)):
            with store.store().open(_key(frame, column, row)) as tile, Image.open(tile) as piece:
                part.paste(piece, (column * TILE_PX - left, row * TILE_PX - top))
    return _jpeg(part)


def _tiles(frame):
    """Return the picture's size, having made sure that its tiles are there."""
    done = f"{frame.shown_key}/tiles/{DONE}"
    if store.holds(done):
        return _read(done)
    with _alone(frame):
        if not store.holds(done):  # or someone else cut them while we waited
            _cut(frame)
    return _read(done)


def _cut(frame):
    with store.on_disk(frame.original_key) as path, store.arriving_folder() as folder:
        if not path.exists():
            raise FileNotFoundError(frame.original_key)
        try:
            size = cut_in_cage(path, name=str(frame), into=folder)
        except Broke as words:
            raise NoCrop(str(words)) from words
        for tile in sorted(folder.iterdir()):
            store.keep(tile, f"{frame.shown_key}/tiles/{tile.name}")
        done = folder / DONE  # last: a process killed before this cuts again
        done.write_text(json.dumps(size))
        store.keep(done, f"{frame.shown_key}/tiles/{DONE}")
    if gone(frame):
        raise FileNotFoundError(frame.original_key)


def _key(frame, column, row):
    return f"{frame.shown_key}/tiles/{column}_{row}.jpg"


def _jpeg(picture):
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def _read(key):
    with store.store().open(key) as file:
        return json.loads(file.read())


@contextmanager
def _alone(frame):
    folder = Path(settings.ARRIVING)
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / f"tiles-{frame.pk}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield

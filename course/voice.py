"""Voice notes: which recordings are taken, and where they lie. Told apart by their first bytes."""

import secrets

from django.core.files.base import ContentFile

from shootlog import store

LARGEST_BYTES = 8 * 1024 * 1024


class NoVoice(ValueError):
    """The recording is not taken; the words say why."""


def sound_type(head: bytes) -> str:
    """The media type of what browsers record: WebM, Ogg or MP4; nothing else is served."""
    if head[:4] == b"\x1a\x45\xdf\xa3":  # EBML, the frame of WebM
        return "audio/webm"
    if head[:4] == b"OggS":
        return "audio/ogg"
    if head[4:8] == b"ftyp":
        return "audio/mp4"
    raise NoVoice("This is no recording the house can play: WebM, Ogg and MP4 are.")


def keep_voice(file, *, author_pk):
    """Keep a recording and return its key."""
    if file.size > LARGEST_BYTES:
        raise NoVoice(f"The note is longer than {LARGEST_BYTES // 1024**2} MB; say it in less.")
    data = file.read()
    sound_type(data[:16])
    key = f"voice/{author_pk}/{secrets.token_hex(16)}"
    return store.store().save(key, ContentFile(data))


def read_voice(key):
    """Return (bytes, media type); FileNotFoundError where it is gone."""
    with store.store().open(key) as file:
        data = file.read()
    return data, sound_type(data[:16])


def forget_voice(key):
    if key:
        store.store().delete(key)

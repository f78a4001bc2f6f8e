"""The house's notes to itself about its backups, in the store, where all its machines read them."""

from __future__ import annotations

import json

from django.core.files.base import ContentFile

from shootlog import store

KEY = "house/backups.json"
KEY_BEFORE = "house/last-backup.json"  # one note alone, as version 0.1.0 wrote it
AT_MOST = 200


def notes() -> list[dict]:
    """One note for each archive, by its name as it was written last; the newest comes last."""
    for key in (KEY, KEY_BEFORE):
        try:
            with store.store().open(key, "rb") as file:
                told = json.load(file)
        except (OSError, ValueError):
            continue
        return told if isinstance(told, list) else [told]
    return []


def add(note: dict) -> None:
    """Remember this one; an archive of the same name was written over."""
    others = [one for one in notes() if one["name"] != note["name"]]
    kept = json.dumps([*others, note][-AT_MOST:])
    store.remove(KEY)
    store.store().save(KEY, ContentFile(kept.encode()))

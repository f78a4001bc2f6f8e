"""The whole house in one archive, made while it runs, and put back into an empty place.

The archive is a zip: `house.json` (what it is and what it holds), `rows/*.jsonl` (every table),
`files.jsonl` (each file with size and SHA-256), `files/...`, and the house's secret.
"""

import contextlib
import hashlib
import io
import json
import os
import shutil
import zipfile
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from config import inventory, rows
from shootlog import backup_notes, store
from shootlog.models import Frame

FORMAT = 1
HEAD, FILES, SECRET = "house.json", "files.jsonl", "secret-key"


def write(target, say=lambda words: None):
    """Write the archive; it stands under its name only when it is whole and on the disk.

    Return its head. Rows first, then files: a file is always there before its row is.
    """
    target = Path(target)
    half = target.with_name(f".{target.name}.{os.getpid()}.half")
    try:
        handle = os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
                head = _fill(archive, say)
            file.flush()
            os.fsync(file.fileno())
        os.replace(half, target)
        store.settle_folder(target.parent.resolve())
    finally:
        half.unlink(missing_ok=True)
    _remember(target, head)
    return head


def _fill(archive, say):
    with rows.snapshot() as moment:
        head = {
            "format": FORMAT,
            "made_at": datetime.now(UTC).isoformat(),
            "version": settings.VERSION,
            "from": connection.vendor,
            "migrations": applied_migrations(),
            "tables": {},
        }
        for model in rows.kept_models():
            head["tables"][model._meta.label_lower] = _write_table(archive, model, moment)
        say(f"{sum(t['rows'] for t in head['tables'].values())} rows are in.")
        head |= _write_files(archive, moment, say)
    with contextlib.suppress(FileNotFoundError):
        archive.writestr(SECRET, settings.SECRET_FILE.read_text(encoding="ascii"))
    archive.writestr(HEAD, json.dumps(head, indent=1))
    return head


def applied_migrations():
    """The last step of the tables, by app: what a restore must begin with."""
    applied = MigrationRecorder(connection).applied_migrations()
    return sorted([app, name] for app, name in applied if app not in rows.NOT_OURS)


def _write_table(archive, model, moment):
    digest, count = hashlib.sha256(), 0
    with archive.open(f"rows/{model._meta.label_lower}.jsonl", "w") as out:
        for row in rows.lines_of(model, moment):
            out.write(rows.as_line(row).encode() + b"\n")
            digest.update(rows.fingerprint_line(row))
            count += 1
    return {"rows": count, "sha256": digest.hexdigest()}


def _write_files(archive, moment, say):
    """Copy what the rows of this moment name. A frame its owner deleted meanwhile is left out."""
    listed, gone, damaged, size = [], [], [], 0
    for frame in inventory.frames(moment):
        entry = _copy(archive, frame.original_key)
        if entry is None and not Frame.objects.filter(pk=frame.pk).exists():
            gone.append(frame.pk)
            continue
        if entry is None or entry["sha256"] != frame.sha256:
            damaged.append(f"{frame} (frame {frame.pk}, {frame.original_key})")
        shown = [_copy(archive, key) for key in inventory.files(f"{frame.shown_key}/")]
        listed += [one for one in [entry, *shown] if one]
        size = sum(one["size"] for one in listed[-len(shown) - 1 :]) + size
    listed += filter(None, (_copy(archive, key) for key in sorted(inventory.voices(moment))))
    archive.writestr(FILES, "".join(f"{json.dumps(one)}\n" for one in listed))
    say(f"{len(listed)} files are in.")
    return {"files": len(listed), "bytes": size, "gone": gone, "damaged": damaged}


def _copy(archive, key):
    """Copy one file into the archive as it is; None where it is not there."""
    try:
        source = store.store().open(key, "rb")
    except OSError:
        return None
    digest, size = hashlib.sha256(), 0
    info = zipfile.ZipInfo(f"files/{key}", date_time=datetime.now(UTC).timetuple()[:6])
    info.compress_type = zipfile.ZIP_STORED  # pictures do not get smaller
    with source, archive.open(info, "w", force_zip64=True) as out:
        while piece := source.read(inventory.PIECE_BYTES):
            digest.update(piece)
            size += len(piece)
            out.write(piece)
    return {"key": key, "size": size, "sha256": digest.hexdigest()}


def _remember(target, head):
    """Leave a note for the status page, where every machine of the house can read it."""
    note = {"made_at": head["made_at"], "name": target.name, "bytes": target.stat().st_size}
    backup_notes.add(note | {"whole": not head["damaged"]})


def last():
    """The note about the last backup, or None."""
    return next(reversed(backup_notes.notes()), None)


# --- reading an archive ---


class Unusable(Exception):
    """The archive cannot be put back; the words say why."""


@contextlib.contextmanager
def opened(path):
    """Give the open archive and its head; raises `Unusable`."""
    try:
        archive = zipfile.ZipFile(path)
    except FileNotFoundError:
        raise Unusable(f"{path} is not there.") from None
    except (OSError, zipfile.BadZipFile) as why:
        raise Unusable(f"{path} is no whole archive ({why}). A copy broke off?") from None
    with archive:
        try:
            head = json.loads(archive.read(HEAD))
        except (KeyError, ValueError, zipfile.BadZipFile):
            raise Unusable(f"{path} is a zip, but no backup of this program.") from None
        if head.get("format") != FORMAT:
            raise Unusable(f"{path} was made by a newer version. Restore it with that one.")
        yield archive, head


def files_in(archive):
    for line in io.TextIOWrapper(archive.open(FILES), encoding="utf-8"):
        yield json.loads(line)


def rows_in(archive, label):
    for line in io.TextIOWrapper(archive.open(f"rows/{label}.jsonl"), encoding="utf-8"):
        yield json.loads(line)


def put_file_back(archive, entry, folder):
    """Bring one file into the store; its bytes are compared with what was written down."""
    path = Path(folder) / "file"
    with archive.open(f"files/{entry['key']}") as source, path.open("wb") as out:
        shutil.copyfileobj(source, out, inventory.PIECE_BYTES)
    with path.open("rb") as back:
        found, _ = inventory.sha256_of(back)
    if found != entry["sha256"]:
        raise Unusable(f"{entry['key']} in the archive is damaged.")
    store.keep(path, entry["key"])

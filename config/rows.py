"""Every row of the house as lines of JSON, the same from any database and into any other.

Dates are written in UTC with every digit, keys are sorted, rows come in the order of their
numbers: two databases that hold the same give the same lines.
"""

import base64
import hashlib
import json
import sqlite3
import tempfile
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from django.apps import apps as present
from django.core.management.color import no_style
from django.db import connection, connections, models, transaction
from django.db.utils import load_backend

from config import database

#: Made again by each start, or of no use elsewhere: kinds of rights nobody has here, people
#: signed in and where, tries at the door, files half sent (they are sent again).
LEFT_OUT = {
    "contenttypes.contenttype",
    "auth.permission",
    "auth.group_permissions",
    "auth.user_user_permissions",
    "sessions.session",
    "course.opensession",
    "course.try",
    "shootlog.upload",
}
#: The engine's own tables, on one kind of database alone; made again from the rows of jobs.
NOT_OURS = {"procrastinate"}
AT_ONCE = 500
SNAPSHOT = "snapshot"


def kept_models(apps=present):
    """Every table that is kept, the ones between two others included, by name."""
    found = apps.get_models(include_auto_created=True)
    kept = [
        model
        for model in found
        if model._meta.label_lower not in LEFT_OUT and model._meta.app_label not in NOT_OURS
    ]
    return sorted(kept, key=lambda model: model._meta.label_lower)


@contextmanager
def snapshot():
    """Give the name of a connection that sees one moment, while the house goes on writing."""
    if connection.vendor == "sqlite":
        with tempfile.TemporaryDirectory(prefix="wd-snapshot-") as folder:
            copy = Path(folder) / "snapshot.sqlite3"
            name = connection.settings_dict["NAME"]
            with closing(sqlite3.connect(name)) as here, closing(sqlite3.connect(copy)) as there:
                here.backup(there)
            with _opened(database.sqlite(copy, testing=True)):
                yield SNAPSHOT
    else:
        with _opened(connection.settings_dict), transaction.atomic(using=SNAPSHOT):
            with connections[SNAPSHOT].cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield SNAPSHOT


@contextmanager
def _opened(set_up):
    whole = connection.settings_dict | set_up
    connections[SNAPSHOT] = load_backend(whole["ENGINE"]).DatabaseWrapper(whole, SNAPSHOT)
    try:
        yield
    finally:
        connections[SNAPSHOT].close()
        del connections[SNAPSHOT]


def lines_of(model, using="default"):
    """Give each row as a dictionary of plain values, by its number."""
    fields = model._meta.concrete_fields
    names = [field.attname for field in fields]
    rows = model._base_manager.using(using).order_by("pk").values_list(*names)
    for row in rows.iterator(chunk_size=AT_ONCE):
        yield {f.attname: plain(f, v) for f, v in zip(fields, row, strict=True)}


def plain(field, value):
    """Say a value in JSON's own words, so that `field.to_python` understands them again."""
    if value is None or isinstance(field, models.JSONField):
        return value
    if isinstance(field, models.BinaryField):
        return base64.b64encode(bytes(value)).decode("ascii")
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value if isinstance(value, str | int | float | bool) else str(value)


def as_line(row):
    return json.dumps(row, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def fingerprint_line(row):
    """The line by which rows are compared: one database writes 1.0 where another writes 1."""
    return as_line(_whole(row)).encode() + b"\n"


def _whole(value):
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, dict):
        return {key: _whole(inner) for key, inner in value.items()}
    return [_whole(inner) for inner in value] if isinstance(value, list) else value


def fingerprint(model, using="default"):
    """Return how many rows a table has, and one SHA-256 over all of them."""
    digest, count = hashlib.sha256(), 0
    for row in lines_of(model, using):
        digest.update(fingerprint_line(row))
        count += 1
    return {"rows": count, "sha256": digest.hexdigest()}


def fingerprints(apps=present):
    return {model._meta.label_lower: fingerprint(model) for model in kept_models(apps)}


def first_with_rows(apps=present):
    """Return the name of a table that is not empty, or None."""
    there = set(connection.introspection.table_names())
    for model in kept_models(apps):
        if model._meta.db_table in there and model._base_manager.exists():
            return model._meta.label_lower
    return None


def put_back(model, rows):
    """Write rows as they were, numbers and all."""
    fields = {field.attname: field for field in model._meta.concrete_fields}
    batch = []
    for row in rows:
        batch.append(model(**{name: fields[name].to_python(v) for name, v in row.items()}))
        if len(batch) == AT_ONCE:
            model._base_manager.bulk_create(batch)
            batch = []
    model._base_manager.bulk_create(batch)


def settle_numbers(apps=present):
    """Let PostgreSQL count on from the highest number that was put back."""
    statements = connection.ops.sequence_reset_sql(no_style(), kept_models(apps))
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)

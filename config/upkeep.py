"""Before the doors open: the tables as this version wants them, the static files collected."""

import hashlib
import sqlite3
from contextlib import closing, contextmanager
from datetime import datetime

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from course.models import SecondFactor

ONE_AT_A_TIME = 1920102  # any number; it names the lock in PostgreSQL


@contextmanager
def alone():
    """Let one machine at a time bring the tables up to date; the next finds nothing to do.

    On SQLite there is one machine, and its own write lock does the same.
    """
    if connection.vendor != "postgresql":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_lock(%s)", [ONE_AT_A_TIME])
        try:
            yield
        finally:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [ONE_AT_A_TIME])


def bring_tables_up_to_date(say):
    with alone():
        migrate_what_is_new(say)
        if settings.SECRET_KEY_FALLBACKS:
            seal_under_the_new_secret(say)


def seal_under_the_new_secret(say):
    """After this the secret before is needed only for sessions and links that began under it."""
    lost = SecondFactor.objects.all().seal_anew()
    if lost:
        say(f"{lost} second codes open under neither secret: `account NAME --no-second-code`.")


def migrate_what_is_new(say):
    """Migrate; keep a copy of an SQLite file that has something in it first."""
    executor = MigrationExecutor(connection)
    loader = executor.loader
    newer = set(loader.applied_migrations) - set(loader.disk_migrations)
    ours = {label for label, _ in loader.disk_migrations}
    unknown = sorted(name for label, name in newer if label in ours)
    if unknown:
        raise CommandError(
            f"The data in {settings.DATA} was last used by a newer version (it knows "
            f"{unknown[-1]}, this one does not). Start the newer version, or give --data another "
            "folder."
        )
    plan = executor.migration_plan(loader.graph.leaf_nodes())
    if not plan:
        return
    if loader.applied_migrations and connection.vendor == "sqlite":
        say(f"Kept a copy of the database first: {keep_copy()}")
    call_command("migrate", verbosity=0, interactive=False)
    say(f"The tables are up to date ({len(plan)} steps).")


def keep_copy():
    """Copy the SQLite file with its own backup call; copying the file itself may tear it."""
    folder = settings.DATA / "kept"
    folder.mkdir(mode=0o700, exist_ok=True)
    now = datetime.now().astimezone().strftime("%Y-%m-%d-%H%M%S")
    copy = folder / f"before-update-{now}.sqlite3"
    name = connection.settings_dict["NAME"]
    with closing(sqlite3.connect(name)) as here, closing(sqlite3.connect(copy)) as there:
        here.backup(there)
    copy.chmod(0o600)
    return copy


def collect_static_files():
    """Collect and compress, but only when a file of ours or of a package has changed."""
    stamp = settings.STATIC_ROOT / ".collected"
    found = fingerprint()
    if stamp.exists() and stamp.read_text() == found:
        return
    call_command("collectstatic", verbosity=0, interactive=False)
    stamp.write_text(found)


def fingerprint():
    seen = hashlib.sha256()
    for finder in get_finders():
        for path, storage in finder.list([]):
            size, when = storage.size(path), storage.get_modified_time(path)
            seen.update(f"{path} {size} {when.timestamp()}\n".encode())
    return seen.hexdigest()

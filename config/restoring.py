"""Put a backup back into an empty place, and prove that it is the same."""

import os

from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.utils import DatabaseError, DataError

from config import backup, inventory, rows
from config.backup import Unusable
from course.models import SecondFactor
from shootlog import store
from shootlog.models import Frame


def restore(path, say=lambda words: None):
    """Put all of it back. Return the archive's head.

    Files come first and rows last, in one transaction: after a restore that broke off there are
    no rows, and the same command goes on where it stopped.
    """
    with backup.opened(path) as (archive, head):
        if head["damaged"]:
            say(f"Not whole when it was made: {'; '.join(head['damaged'])}")
        must_be_empty(archive)
        apps = tables_as_then(head)
        files = put_files_back(archive, say)
        put_rows_back(archive, head, apps)
        put_secret_back(archive, say)  # before the migrations, which may seal something with it
        call_command("migrate", verbosity=0, interactive=False)
        for pk in head["gone"]:  # deleted by their owners while the backup was made
            Frame.objects.filter(pk=pk).delete()
        seal_under_our_secret(archive, say)
        say(f"{sum(t['rows'] for t in head['tables'].values())} rows and {files} files are back.")
    return head


def must_be_empty(archive):
    """Refuse where anything is that this archive does not hold itself."""
    full = rows.first_with_rows()
    if full:
        raise Unusable(
            f"The database is not empty (there are rows in {full}). A backup is put back into an "
            "empty place only: give --data another folder, or WD_DATABASE_URL another database."
        )
    ours = {entry["key"] for entry in backup.files_in(archive)}
    ours_too = inventory.OF_THE_HOUSE  # its notes to itself; a restored house writes new ones
    strange = next(
        (key for key in inventory.files() if key not in ours and not key.startswith(ours_too)), None
    )
    if strange:
        raise Unusable(
            f"The store is not empty: {strange} lies there and is not of this backup. Give --data "
            "another folder, or WD_STORAGE_URL another bucket."
        )


def tables_as_then(head):
    """Bring the tables to the step they stood at when the backup was made."""
    executor = MigrationExecutor(connection)
    then = {tuple(step) for step in head["migrations"]}
    unknown = sorted(then - set(executor.loader.disk_migrations))
    if unknown:
        raise Unusable(
            f"The backup was made by a newer version (it knows {'.'.join(unknown[-1])}, this one "
            "does not). Restore it with that version."
        )
    steps = executor.loader.graph.node_map
    last_steps = sorted(step for step in then if not _followed(steps[step], then))
    state = executor.migrate(last_steps)
    return state.apps


def _followed(step, then):
    """Whether another step of the same app came after this one."""
    return any(after.key[0] == step.key[0] and after.key in then for after in step.children)


def put_files_back(archive, say):
    count = 0
    with store.arriving_folder() as folder:
        for entry in backup.files_in(archive):
            if not already_there(entry):
                backup.put_file_back(archive, entry, folder)
            count += 1
    say(f"{count} files are back.")
    return count


def already_there(entry):
    """A restore that broke off left whole files, and files that were being written elsewhere."""
    here = store.store()
    if not here.exists(entry["key"]):
        return False
    with here.open(entry["key"], "rb") as file:
        return inventory.sha256_of(file)[0] == entry["sha256"]


def put_rows_back(archive, head, apps):
    models = {model._meta.label_lower: model for model in rows.kept_models(apps)}
    strange = sorted(set(head["tables"]) - set(models))
    if strange:
        raise Unusable(f"The backup holds a table this version does not have: {strange[0]}.")
    try:
        # references between rows are checked at the end of the transaction, whatever the order
        with transaction.atomic():
            for label in head["tables"]:
                rows.put_back(models[label], backup.rows_in(archive, label))
            rows.settle_numbers(apps)
            for label, told in head["tables"].items():
                found = rows.fingerprint(models[label])
                if found != told:
                    raise Unusable(f"{label} came back different: {found}, and was {told}.")
            connection.check_constraints()
    except DataError as why:
        raise Unusable(f"This database does not take a row of the backup: {why}") from why
    except DatabaseError as why:
        raise Unusable(f"The rows could not be written, and none was: {why}") from why


def put_secret_back(archive, say):
    """The secret opens what was locked with it; one given by the environment goes first."""
    if backup.SECRET not in archive.namelist():
        return
    if "WD_SECRET_KEY" in os.environ or "WD_SECRET_KEY_FILE" in os.environ:
        say("The secret is the environment's; the one in the backup was not put back.")
        return
    half = settings.SECRET_FILE.with_suffix(".half")
    half.unlink(missing_ok=True)
    handle = os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    secret = archive.read(backup.SECRET)
    with os.fdopen(handle, "wb") as file:
        file.write(secret)
    store.settle_file(half)
    os.replace(half, settings.SECRET_FILE)
    settings.SECRET_KEY = secret.decode("ascii")  # what this run seals from here on


def seal_under_our_secret(archive, say):
    """Second codes were sealed under the secret of the other house, which the archive may hold."""
    theirs = [archive.read(name).decode() for name in archive.namelist() if name == backup.SECRET]
    lost = SecondFactor.objects.all().seal_anew(*theirs)
    if lost:
        say(
            f"{lost} second codes were sealed under a secret that is not here. Give it as "
            "WD_SECRET_KEY_BEFORE and start again, or `account NAME --no-second-code` for each."
        )

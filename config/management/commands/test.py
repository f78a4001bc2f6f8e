"""Run all tests with pytest, in a process that has not read the owner's settings."""

import os
import subprocess
import sys

from django.conf import settings
from django.core.management.base import BaseCommand

from config import cluster, needs

POSTGRES = "--postgres"


class Command(BaseCommand):
    help = (
        "Run the tests. All arguments go to pytest: manage.py test -k lease -x. With --postgres "
        "those that use the database run on a PostgreSQL made for them and thrown away."
    )
    requires_system_checks = []

    def run_from_argv(self, argv):
        words = argv[2:]
        needs.install_what_is_missing(say)
        os.chdir(settings.BASE_DIR)
        sys.stdout.flush()
        env = settings_of_no_owner(os.environ)
        if POSTGRES in words:
            words.remove(POSTGRES)
            sys.exit(on_postgres(words, env))
        line = [sys.executable, "-m", "pytest", *words]
        os.execve(line[0], line, env)  # noqa: S606


def on_postgres(words, env):
    """Run those tests that use the database on a private cluster; return pytest's status."""
    if cluster.program("initdb") is None:
        needs.install([cluster.PACKAGE], say)
    line = [sys.executable, "-m", "pytest", "--only-database", *words]
    try:
        with cluster.private_cluster() as url:
            return subprocess.run(line, env=env | {"WD_DATABASE_URL": url}).returncode
    except cluster.NoCluster as why:
        say(str(why))
        return 1


def settings_of_no_owner(environ):
    """Drop what would change a test's outcome; which database to test on may stay."""
    kept = {"WD_DATABASE_URL", "WD_VENV"}
    return {k: v for k, v in environ.items() if not k.startswith("WD_") or k in kept}


def say(words):
    print(words, file=sys.stderr, flush=True)

"""Run all tests with pytest, in a process that has not read the owner's settings."""

import os
import sys

from django.conf import settings
from django.core.management.base import BaseCommand

from config import needs


class Command(BaseCommand):
    help = "Run the tests. All arguments go to pytest: manage.py test -k lease -x"
    requires_system_checks = []

    def run_from_argv(self, argv):
        needs.install_what_is_missing(lambda words: print(words, file=sys.stderr, flush=True))
        os.chdir(settings.BASE_DIR)
        sys.stdout.flush()
        line = [sys.executable, "-m", "pytest", *argv[2:]]
        os.execve(line[0], line, settings_of_no_owner(os.environ))  # noqa: S606


def settings_of_no_owner(environ):
    """Drop what would change a test's outcome; which database to test on may stay."""
    kept = {"WD_DATABASE_URL", "WD_VENV"}
    return {k: v for k, v in environ.items() if not k.startswith("WD_") or k in kept}

"""Format, lint, types, import contracts, missing migrations: all of them, then the verdict."""

import os
import subprocess
import sys
import tempfile
import time

from django.conf import settings
from django.core.management.base import BaseCommand

PYTHON = [sys.executable, "-m"]
LINT_IMPORTS = "from importlinter.cli import lint_imports_command; lint_imports_command()"
STEPS = {
    "format": [*PYTHON, "ruff", "format", "--check", "--quiet", "."],
    "lint": [*PYTHON, "ruff", "check", "--quiet", "."],
    "types": [*PYTHON, "mypy", "--no-error-summary", "config", "course", "shootlog", "optics"],
    "imports": [
        sys.executable,
        "-c",
        "from importlinter.cli import lint_imports_command as run; run()",
    ],
    "migrations": [sys.executable, "manage.py", "makemigrations", "--check", "--dry-run"],
}


class Command(BaseCommand):
    help = "Check format, lint, types, import contracts and missing migrations."
    requires_system_checks = []

    def handle(self, **options):
        os.chdir(settings.BASE_DIR)
        with tempfile.TemporaryDirectory() as nobodys:
            env = os.environ | {"WD_DATA": nobodys, "PYTHONPATH": str(settings.BASE_DIR)}
            failed = [name for name in STEPS if not self.passes(name, env)]
        if failed:
            self.stdout.write(f"Not clean: {', '.join(failed)}.")
            sys.exit(1)
        self.stdout.write("All clean.")

    def passes(self, name, env):
        began = time.monotonic()
        done = subprocess.run(
            STEPS[name], env=env, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )
        verdict = "not clean" if done.returncode else "clean"
        self.stdout.write(f"{name}: {verdict} ({time.monotonic() - began:.1f} s)")
        if done.returncode:
            self.stdout.write(done.stdout)
        self.stdout.flush()
        return done.returncode == 0

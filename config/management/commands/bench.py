"""Measure ratios: one JSON line per benchmark."""

import json
import subprocess
import sys

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from config import benches, measuring


class Command(BaseCommand):
    help = "Run the benchmarks, each in a fresh process; one JSON line for each."
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("name", nargs="?", help="one benchmark, or the beginning of its name")
        parser.add_argument("--list", action="store_true", help="say which there are")
        parser.add_argument("--here", action="store_true", help="run it in this very process")

    def handle(self, *, name, here, **options):
        known = benches.found()
        chosen = [one for one in known if one == name] or [
            one for one in known if one.startswith(name or "")
        ]
        if not chosen:
            raise CommandError(f"There is no benchmark {name}. There are: {', '.join(known)}.")
        if options["list"]:
            self.stdout.write("\n".join(chosen))
        elif here:
            line = {"bench": chosen[0]} | known[chosen[0]]()
            line.setdefault("peak_rss_mb", measuring.peak_rss_mb())
            self.stdout.write(json.dumps(line))
        else:
            failed = [one for one in chosen if not self.run_apart(one)]
            if failed:
                raise CommandError(f"These did not finish: {', '.join(failed)}.")

    def run_apart(self, name):
        """Run one in a process of its own: a heap that another grew changes what is measured."""
        line = [sys.executable, "manage.py", "bench", name, "--here"]
        return subprocess.run(line, cwd=settings.BASE_DIR, check=False).returncode == 0

"""Everything that must be done once before pages and workers start, and nothing else."""

import time

from django.core.management.base import BaseCommand

from config import upkeep


class Command(BaseCommand):
    help = "Bring tables and static files up to date, once, however many machines ask."

    def add_arguments(self, parser):
        parser.add_argument("--data", help="the data folder")

    def handle(self, **options):
        began = time.monotonic()
        upkeep.bring_tables_up_to_date(self.stdout.write)
        upkeep.collect_static_files()
        self.stdout.write(f"Ready ({time.monotonic() - began:.1f} s).")

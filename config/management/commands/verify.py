"""Compare every row with every file."""

from django.core.management.base import BaseCommand, CommandError

from config import inventory


class Command(BaseCommand):
    help = "Every row's file is there with its SHA-256, every file belongs to a row."

    def add_arguments(self, parser):
        parser.add_argument("--quick", action="store_true", help="lengths only, no checksums")
        parser.add_argument("--data", help="the data folder")

    def handle(self, *, quick, **options):
        found = inventory.look_through(quick=quick)
        for words in found.lost:
            self.stdout.write(f"Lost: {words}")
        for key in found.strays:
            self.stdout.write(f"Not needed: {key} belongs to no row; its hand-in broke off.")
        self.stdout.write(
            f"{found.rows} frames, {found.files} files: {len(found.lost)} lost, "
            f"{len(found.strays)} not needed."
        )
        if found.lost:
            raise CommandError(
                "Put the originals back from a backup, or have them sent again: the same bytes "
                "are recognised. What is shown is made again by `reread --pixels`."
            )

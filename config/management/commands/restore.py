"""Put a backup back into an empty place."""

from django.core.management.base import BaseCommand, CommandError

from config import backup, restoring


class Command(BaseCommand):
    help = "Put a backup back: into an empty data folder, database and store."

    def add_arguments(self, parser):
        parser.add_argument("file", help="an archive that `backup` wrote")
        parser.add_argument("--data", help="the data folder")

    def handle(self, *, file, **options):
        try:
            head = restoring.restore(file, self.stdout.write)
        except backup.Unusable as why:
            raise CommandError(str(why)) from why
        self.stdout.write(
            f"The house is as it was at {head['made_at']}; every table and file has the checksum "
            "it had. Everyone signs in again."
        )

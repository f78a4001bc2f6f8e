"""Write the whole house into one archive, while it runs."""

from django.core.management.base import BaseCommand, CommandError

from config import backup


class Command(BaseCommand):
    help = "Write everything (rows, originals, what is shown, the secret) into one archive."

    def add_arguments(self, parser):
        parser.add_argument("file", help="where the archive goes; an older one there is replaced")
        parser.add_argument("--data", help="the data folder")

    def handle(self, *, file, **options):
        try:
            head = backup.write(file, self.stdout.write)
        except OSError as why:
            raise CommandError(f"{file} could not be written: {why.strerror or why}.") from why
        for what in head["damaged"]:
            self.stderr.write(f"Not whole in the store: {what}")
        self.stdout.write(
            f"{file} holds it all ({head['bytes'] / 1e6:.1f} MB of files). Keep it where only you "
            "can read it: the house's secret is in it."
        )
        if head["damaged"]:
            raise CommandError(
                "The archive is written, but the originals named above are not whole."
            )

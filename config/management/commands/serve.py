"""Everything in one command: tables, static files, web side, workers."""

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand

from config import serving, upkeep
from course.first_key import LOOPBACK, first_key


class Command(BaseCommand):
    help = "Serve the house on this machine: pages and background work. Ctrl-C stops both."

    def add_arguments(self, parser):
        parser.add_argument("--host", default="127.0.0.1", help="0.0.0.0 for the local network")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--data", help="the data folder (WD_DATA)")
        parser.add_argument("--workers", type=int, help="how many workers (WD_WORKERS)")

    def handle(self, *, host, port, workers, **options):
        with serving.listen(host, port) as door:
            port = door.getsockname()[1]  # 0 asks for any free one
            upkeep.bring_tables_up_to_date(self.say)
            upkeep.collect_static_files()
            everywhere = host in {"0.0.0.0", "::"}  # noqa: S104
            hosts = serving.own_names() if everywhere else [host]
            house = serving.House(door, hosts=hosts, workers=workers)
            asked = "127.0.0.1" if everywhere else host
            house.run(self.say, lambda: serving.answers(port, asked) and self.welcome(host, port))

    def welcome(self, host, port):
        """Say where it is, once it answers."""
        where = [f"{settings.PUBLIC_URL}/"] if settings.PUBLIC_URL else []
        where += serving.addresses(host, port)
        self.say(f"Working Distance is at {'  '.join(where)}  (Ctrl-C stops it)")
        if not get_user_model().objects.exists():
            self.say("Nobody has an account yet: open it, and it asks for the first instructor.")
            if settings.PUBLIC_URL or not host.startswith(LOOPBACK):
                self.say(
                    "From another machine, open it with this key, so that no stranger is first: "
                    f"{where[-1]}first/?key={first_key()}"
                )
        return True

    def say(self, words):
        self.stdout.write(words)
        self.stdout.flush()

from django.core.management import call_command
from django.core.management.base import BaseCommand

from course import demo_group


class Command(BaseCommand):
    help = "Everything, with an invented group: tables, course, frames, pages and workers."

    def add_arguments(self, parser):
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--data", help="its own data folder; never the owner's")
        parser.add_argument("--workers", type=int)

    def handle(self, *, host, port, workers, **options):
        call_command("migrate", verbosity=0, interactive=False)
        people = demo_group.load(self.say)
        self.say(f"Everyone signs in with the password: {demo_group.PASSWORD}")
        for name, role, signs_in_as in people:
            self.say(f"  {signs_in_as:<10} {name}, {role}")
        call_command("serve", host=host, port=port, workers=workers)

    def say(self, words):
        self.stdout.write(words)
        self.stdout.flush()

from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shootlog.models import ApiToken


class Command(BaseCommand):
    help = "Make a token for the API. It is printed once; only its hash is kept."

    def add_arguments(self, parser):
        parser.add_argument("name", help="the name the person signs in with")
        parser.add_argument("--for", dest="purpose", default="", help="a word on what it is for")
        parser.add_argument(
            "--withdraw", action="store_true", help="end all of the person's tokens"
        )

    def handle(self, name, purpose, withdraw, **options):
        user = User.objects.filter(username=name).first()
        if user is None:
            raise CommandError(f"nobody here signs in as {name!r}")
        if withdraw:
            ended = ApiToken.objects.filter(user=user, withdrawn_at=None).update(
                withdrawn_at=timezone.now()
            )
            self.stderr.write(f"{ended} withdrawn")
            return
        _, key = ApiToken.objects.make(user, purpose)
        self.stdout.write(key)

"""What the owner of the house can do for a person who stands before a shut door."""

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError

from course.models import AuditLine, OpenSession, SecondFactor


class Command(BaseCommand):
    help = "Help one person: switch their second code off, sign them out everywhere."

    def add_arguments(self, parser):
        parser.add_argument("name", help="the name they sign in with")
        parser.add_argument("--no-second-code", action="store_true", help="phone and codes lost")
        parser.add_argument("--sign-out", action="store_true", help="on every device")

    def handle(self, *, name, no_second_code, sign_out, **options):
        user = get_user_model().objects.filter(username=name).first()
        if user is None:
            raise CommandError(f"Nobody signs in as {name!r} here. Capitals count.")
        if no_second_code:
            SecondFactor.objects.filter(user=user).delete()
            AuditLine.objects.note("second factor off", about=user)
            self.stdout.write(f"{name} signs in with the password alone now.")
        if sign_out:
            OpenSession.objects.filter(user=user).end()
            AuditLine.objects.note("sessions ended", about=user)
            self.stdout.write(f"{name} is signed out everywhere.")
        if not (no_second_code or sign_out):
            self.stdout.write("Nothing was asked for. See --help. For a password: changepassword.")

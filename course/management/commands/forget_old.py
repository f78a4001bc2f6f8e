"""Delete what is kept longer than it has to be."""

from datetime import timedelta

from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.sessions.models import Session
from django.core.management.base import BaseCommand
from django.utils import timezone

from course.leaving import forget_frames
from course.models import AuditLine, Enrolment, Invitation, OpenSession, Person, ResetLink, Try
from course.models.throttle import FORGOTTEN_AFTER
from shootlog.models import Frame, Upload

LINKS_KEPT = timedelta(days=90)  # after they opened their last door


class Command(BaseCommand):
    help = "Delete what is old: ended sessions, links, audit lines, frames of people who left."

    def add_arguments(self, parser):
        parser.add_argument("--really", action="store_true", help="delete; else only say what")

    def handle(self, *, really, **options):
        now = timezone.now()
        for words, rows in old_rows(now).items():
            count = rows.count()
            if really:
                rows.delete()
            self.say(count, words, really)
        if really:
            self.say(Upload.objects.sweep(), "files half sent that nobody went on with", really)
            OpenSession.objects.forget_ended()
        self.frames(now, really)

    def frames(self, now, really):
        if not settings.KEEP_AFTER_LEAVING_DAYS:
            self.stdout.write("Frames of people who left are kept (WD_KEEP_AFTER_LEAVING_DAYS=0).")
            return
        frames = Frame.objects.filter(owner__in=left_for_long(now))
        count = frames.count()
        if really and count:
            forget_frames(frames)
            AuditLine.objects.note("frames forgotten")
        self.say(count, "frames of people who left every group", really)

    def say(self, count, words, really):
        self.stdout.write(f"{count} {words} {'deleted' if really else 'would be deleted'}.")


def old_rows(now):
    return {
        "sessions that ended": Session.objects.filter(expire_date__lt=now),
        "counters of tries to sign in": Try.objects.filter(last_at__lt=now - FORGOTTEN_AFTER),
        "audit lines": AuditLine.objects.filter(
            at__lt=now - timedelta(days=settings.KEEP_AUDIT_DAYS)
        ),
        "invitations long past": Invitation.objects.filter(expires_at__lt=now - LINKS_KEPT),
        "password links long past": ResetLink.objects.filter(expires_at__lt=now - LINKS_KEPT),
    }


def left_for_long(now):
    """Students who left their last group long ago; who never was in one, or teaches, is not."""
    before = now - timedelta(days=settings.KEEP_AFTER_LEAVING_DAYS)
    here = Enrolment.objects.filter(left_at=None) | Enrolment.objects.filter(left_at__gte=before)
    return (
        get_user_model()
        .objects.filter(enrolments__isnull=False)
        .exclude(pk__in=here.values("user"))
        .exclude(pk__in=Person.objects.teaching().values("user"))
        .distinct()
    )

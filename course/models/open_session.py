from datetime import timedelta

from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import models, transaction
from django.utils import timezone

NOTED_EVERY = timedelta(minutes=10)


class OpenSessionQuerySet(models.QuerySet):
    def of(self, user):
        """Where this person is signed in, the one used last first."""
        alive = Session.objects.filter(expire_date__gt=timezone.now()).values("session_key")
        return self.filter(user=user, session_key__in=alive).order_by("-seen_at", "-pk")

    @transaction.atomic
    def end(self):
        """Sign these out, wherever they are."""
        Session.objects.filter(session_key__in=self.values("session_key")).delete()
        return self.delete()

    def forget_ended(self):
        alive = Session.objects.filter(expire_date__gt=timezone.now()).values("session_key")
        return self.exclude(session_key__in=alive).delete()


class OpenSession(models.Model):
    """One browser a person is signed in with; kept so that they can see and end it."""

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="open_sessions"
    )
    session_key = models.CharField(max_length=40, unique=True)
    begun_at = models.DateTimeField(default=timezone.now)
    seen_at = models.DateTimeField(default=timezone.now)
    device = models.CharField(max_length=60, blank=True)

    objects = OpenSessionQuerySet.as_manager()

    def __str__(self):
        return f"{self.device}, since {self.begun_at:%Y-%m-%d}"


def device_in_words(user_agent):
    """Tell a phone from a computer, no more: enough to know one's own again."""
    words = user_agent or ""
    systems = [
        ("iPhone", "iPhone"),
        ("iPad", "iPad"),
        ("Android", "Android phone or tablet"),
        ("Windows", "Windows computer"),
        ("Macintosh", "Mac"),
        ("Linux", "Linux computer"),
    ]
    return next((said for mark, said in systems if mark in words), "a device of unknown kind")

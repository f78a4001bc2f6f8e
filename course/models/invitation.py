import hashlib
import secrets
from datetime import timedelta

from django.conf import settings
from django.db import models
from django.utils import timezone

from course.models.course import Teaching
from course.models.group import Enrolment
from course.models.person import Person

INVITATION_LASTS = timedelta(days=14)
RESET_LASTS = timedelta(days=2)


def token_hash(token: str) -> str:
    """Only the hash is kept, so a copied database opens no door."""
    return hashlib.sha256(token.encode()).hexdigest()


class TokenQuerySet(models.QuerySet):
    def make(self, *, lasts, **values):
        """Return (row, token); the token is shown once and never stored."""
        token = secrets.token_urlsafe(24)
        row = self.create(token_hash=token_hash(token), expires_at=timezone.now() + lasts, **values)
        return row, token

    def open_for(self, token):
        """The row this token still opens, or none."""
        return self.open().filter(token_hash=token_hash(token))


class InvitationQuerySet(TokenQuerySet):
    def open(self):
        return self.filter(taken_at=None, withdrawn_at=None, expires_at__gt=timezone.now())


class Invitation(models.Model):
    """A link that lets one person in, with a role; handed over by any means, no mail needed."""

    class Role(models.TextChoices):
        STUDENT = "student"
        ASSISTANT = "assistant"
        INSTRUCTOR = "instructor"

    token_hash = models.CharField(max_length=64, unique=True)
    role = models.CharField(max_length=10, choices=Role.choices)
    course = models.ForeignKey(
        "course.Course", null=True, blank=True, on_delete=models.CASCADE, related_name="invitations"
    )
    group = models.ForeignKey(
        "course.Group", null=True, blank=True, on_delete=models.CASCADE, related_name="invitations"
    )
    for_name = models.CharField(max_length=80, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    taken_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = InvitationQuerySet.as_manager()

    def __str__(self):
        return f"invitation for {self.for_name or 'someone'} ({self.role})"

    @property
    def is_open(self):
        return not self.taken_at and not self.withdrawn_at and self.expires_at > timezone.now()

    def take(self, user):
        """Let this person in: a student to the group, a teacher to the course."""
        if self.role == self.Role.STUDENT:
            Enrolment.objects.update_or_create(
                group=self.group, user=user, defaults={"left_at": None}
            )
        else:
            Teaching.objects.update_or_create(
                course=self.course, user=user, defaults={"role": self.role}
            )
            if self.role == self.Role.INSTRUCTOR:
                Person.objects.filter(user=user).update(may_teach=True)
        self.taken_by = user
        self.taken_at = timezone.now()
        self.save(update_fields=["taken_by", "taken_at"])

    def withdraw(self):
        self.withdrawn_at = timezone.now()
        self.save(update_fields=["withdrawn_at"])


class ResetLinkQuerySet(TokenQuerySet):
    def open(self):
        return self.filter(used_at=None, expires_at__gt=timezone.now())

    @staticmethod
    def may_be_made_for(user):
        """Not for those who teach: whoever sets a password can see what its owner can see."""
        return not Person.objects.filter(user=user).teaching().exists()


class ResetLink(models.Model):
    """Made by an instructor for someone who forgot a password."""

    token_hash = models.CharField(max_length=64, unique=True)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="reset_links"
    )
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    objects = ResetLinkQuerySet.as_manager()

    def __str__(self):
        return f"reset link for {self.user}"

    def use(self, password):
        self.user.set_password(password)
        self.user.save(update_fields=["password"])
        self.used_at = timezone.now()
        self.save(update_fields=["used_at"])

import hashlib
import secrets

from django.conf import settings
from django.db import models
from django.utils import timezone


def _hash(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


class ApiTokenManager(models.Manager):
    def make(self, user, name=""):
        """Return (row, key); the key is printed once and only its hash is kept."""
        key = secrets.token_urlsafe(30)
        return self.create(user=user, name=name, key_hash=_hash(key)), key

    def find(self, key):
        return (
            self.select_related("user")
            .filter(key_hash=_hash(key), withdrawn_at=None, user__is_active=True)
            .first()
        )


class ApiToken(models.Model):
    """Lets a program act as one person."""

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="api_tokens"
    )
    name = models.CharField(max_length=80, blank=True)
    key_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = ApiTokenManager()

    def __str__(self):
        return self.name or f"token {self.pk}"

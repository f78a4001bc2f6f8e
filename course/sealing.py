"""Secrets that must be read again, kept so that the tables alone do not give them away.

Fernet (AES-128 in CBC mode and HMAC-SHA-256) under a key that HKDF (RFC 5869) makes from the
house's secret. That secret lies in the environment or in a file of its own, never in a table:
a copy of the database, a dump, a stolen disk of the database machine open nothing.
"""

import base64

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

PURPOSE = b"working-distance second factor 1"


class CannotOpen(Exception):
    """It was sealed under another secret of the house."""


def _key(secret):
    made = HKDF(SHA256(), length=32, salt=None, info=PURPOSE).derive(secret.encode())
    return Fernet(base64.urlsafe_b64encode(made))


def seal(text):
    """Seal under today's secret."""
    return _key(settings.SECRET_KEY).encrypt(text.encode()).decode("ascii")


def open_sealed(sealed, *more):
    """Open what was sealed under today's secret, one before it, or one of `more`."""
    secrets = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS, *more]
    try:
        return MultiFernet([_key(secret) for secret in secrets]).decrypt(sealed.encode()).decode()
    except InvalidToken:
        raise CannotOpen from None

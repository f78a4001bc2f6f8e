"""The key to an empty house that others can reach, so that the first to come is its owner."""

from django.conf import settings
from django.utils.crypto import constant_time_compare, salted_hmac

LOOPBACK = ("127.", "::1", "localhost")
FORWARDED = ("HTTP_X_FORWARDED_FOR", "HTTP_X_FORWARDED_HOST", "HTTP_FORWARDED")


def first_key():
    """Return the key; it follows from the house's secret, so every process knows the same one."""
    return salted_hmac("course.first_key", "the first account", algorithm="sha256").hexdigest()[:32]


def needs_key(request):
    """Whether this visitor may sit at another machine than the house's own."""
    if settings.PUBLIC_URL or any(name in request.META for name in FORWARDED):
        return True
    return not request.META.get("REMOTE_ADDR", "").startswith(LOOPBACK)


def opens(request):
    given = request.POST.get("key") or request.GET.get("key") or ""
    return not needs_key(request) or constant_time_compare(given, first_key())

"""Notes where a person is signed in, and leads those who need a second code to it."""

from django.conf import settings
from django.contrib.auth import logout
from django.contrib.auth.signals import user_logged_in
from django.dispatch import receiver
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from course.models import OpenSession, Person, SecondFactor
from course.models.open_session import NOTED_EVERY, device_in_words

NOTED_AT, BEGUN_AT = "noted_at", "begun_at"
FREE_OF_CODE = ("course:second-factor", "course:sign-out", "course:me")


@receiver(user_logged_in)
def begun(sender, request, user, **kwargs):
    """A signal for once: Django's own code signs people in as well as ours."""
    if not request.session.session_key:
        request.session.save()
    now = timezone.now().timestamp()
    request.session[BEGUN_AT] = now
    _write(request, user, now)


def note(request):
    """Write at most once in a while: a write per page would cost more than the page."""
    now = timezone.now().timestamp()
    key, last = request.session.get(NOTED_AT) or (None, 0)
    if key != request.session.session_key or now - last > NOTED_EVERY.total_seconds():
        _write(request, request.user, now)


def _write(request, user, now):
    key = request.session.session_key
    device = device_in_words(request.headers.get("User-Agent", ""))
    OpenSession.objects.update_or_create(
        session_key=key, defaults={"user": user, "seen_at": timezone.now(), "device": device}
    )
    request.session[NOTED_AT] = [key, now]


def is_too_old(session):
    return timezone.now().timestamp() - session.get(BEGUN_AT, 0) > settings.LONGEST_SESSION_S


class OpenSessions:
    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        if request.session.get("_auth_user_id") and request.user.is_authenticated:
            if is_too_old(request.session):
                logout(request)
                return redirect(settings.LOGIN_URL)
            note(request)
            if settings.SECOND_FACTOR_FOR_TEACHING and self.lacks_code(request):
                return redirect("course:second-factor")
        return self.get_response(request)

    def lacks_code(self, request):
        if request.path in [reverse(name) for name in FREE_OF_CODE]:
            return False
        if not Person.objects.filter(user=request.user).teaching().exists():
            return False
        return SecondFactor.objects.of(request.user) is None

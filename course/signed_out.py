"""Who was signed out when pressing a button comes back to the page the button is on."""

from urllib.parse import urlencode, urlsplit

from django.conf import settings
from django.contrib import messages
from django.shortcuts import resolve_url
from django.utils.http import url_has_allowed_host_and_scheme

NOT_DONE = "You were signed out, so what you pressed was not done. Sign in, and press it again."


class BackToThePage:
    """A button's own address cannot be opened; the page it was pressed on can."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        answer = self.get_response(request)
        if answer.status_code == 302 and self.was_pressed(request):
            sign_in = resolve_url(settings.LOGIN_URL)
            if answer.url.startswith(f"{sign_in}?") and (page := page_of(request)):
                messages.warning(request, NOT_DONE)
                answer["Location"] = f"{sign_in}?{urlencode({'next': page})}"
        return answer

    @staticmethod
    def was_pressed(request):
        """A form a person sent, and not a script in the background."""
        by_script = {"X-Requested-With", "Tus-Resumable"} & set(request.headers)
        return request.method == "POST" and not by_script and not request.user.is_authenticated


def page_of(request):
    """The path of the page of this house that the form was on, or nothing."""
    page = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(page, {request.get_host()}, request.is_secure()):
        return ""
    parts = urlsplit(page)
    return f"{parts.path}?{parts.query}" if parts.query else parts.path

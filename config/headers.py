"""What every answer says about itself: where scripts and pictures may come from."""

from django.conf import settings


def policy(directives):
    """Write ``{"default-src": ["'none'"]}`` as the header wants it."""
    return "; ".join(f"{name} {' '.join(sources)}" for name, sources in directives.items())


class Headers:
    """Send ``SECURE_CSP``, named as in Django 6, and what else keeps a page to itself.

    The policy is the same for every page, as no page holds a script or a style of its own; a
    view that has set the header itself keeps what it set.
    """

    def __init__(self, get_response):
        self.get_response = get_response
        self.csp = policy(settings.SECURE_CSP)

    def __call__(self, request):
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.csp)
        response.headers.setdefault("Permissions-Policy", settings.PERMISSIONS_POLICY)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        if response.headers.get("Content-Type", "").startswith("text/html"):
            response.headers.setdefault("Cache-Control", "private, no-cache")
        return response

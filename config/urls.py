"""The site's map."""

from django.db import connection
from django.http import HttpResponse
from django.urls import include, path

from config.pages import numbers


def health(request):
    """Say that the web side and its database answer."""
    connection.ensure_connection()
    return HttpResponse("ok\n", content_type="text/plain")


def no_icon(request):
    """Browsers ask for this where a page names no icon; pages of ours name one."""
    return HttpResponse(status=204)


urlpatterns = [
    path("favicon.ico", no_icon),
    path("health/", health, name="health"),
    path("numbers/", numbers, name="numbers"),
    path("api/", include("config.api_urls")),
    path("log/", include("shootlog.urls")),
    path("plan/", include("shootlog.plan_urls")),
    path("", include("course.urls")),
]

"""The site's map."""

from django.http import HttpResponse
from django.urls import include, path

from config import views
from config.pages import numbers


def no_icon(request):
    """Browsers ask for this where a page names no icon; pages of ours name one."""
    return HttpResponse(status=204)


handler404 = "config.faults.not_found"
handler500 = "config.faults.fault"
urlpatterns = [
    path("favicon.ico", no_icon),
    # the house about itself: is it up, can it take requests, how is it doing
    path("health/", views.health, name="health"),
    path("ready/", views.ready, name="ready"),
    path("metrics/", views.numbers, name="metrics"),
    path("house/", views.house, name="house"),
    path("numbers/", numbers, name="numbers"),
    path("api/", include("config.api_urls")),
    path("log/", include("shootlog.urls")),
    path("plan/", include("shootlog.plan_urls")),
    path("", include("course.urls")),
]

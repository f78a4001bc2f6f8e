"""The site's map."""

from django.http import HttpResponse
from django.urls import include, path


def health(request):
    return HttpResponse("ok\n", content_type="text/plain")


urlpatterns = [
    path("health/", health, name="health"),
    path("log/", include("shootlog.urls")),
    path("", include("course.urls")),
]

"""The log's map, mounted at /log/."""

from django.http import HttpResponse
from django.urls import path

app_name = "shootlog"

urlpatterns = [
    path("", lambda request: HttpResponse("to come"), name="log"),  # the loop helper replaces this
]

"""What a person reads when something on our side stopped."""

import sys

from django.http import JsonResponse
from django.shortcuts import render
from django.views import defaults

from shootlog.full_disk import is_full

NO_ROOM = (
    "The disk of this house is full, so what you just sent was not kept. Everything that was "
    "here before is safe. Whoever runs the house has to make room; then send it again."
)


def not_found(request, exception):
    """A program gets its own kind of answer, also at an address that never was one."""
    if request.path.startswith("/api/"):
        return JsonResponse({"detail": "Not found."}, status=404)
    return defaults.page_not_found(request, exception)


class OnlyPressed:
    """Who opens the address of a button gets a page of ours, with a way back."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        answer = self.get_response(request)
        opened = request.method == "GET" and not request.path.startswith("/api/")
        if answer.status_code != 405 or not opened:
            return answer
        page = render(request, "405.html", status=405)
        page["Allow"] = answer["Allow"]
        return page


def fault(request):
    """Called by Django while the exception is still at hand."""
    if is_full(sys.exc_info()[1]):
        if request.path.startswith("/api/"):
            return JsonResponse({"detail": NO_ROOM}, status=507)
        return render(request, "507.html", {"words": NO_ROOM}, status=507)
    return defaults.server_error(request)

"""Pages that belong to no one room: what stands behind the numbers."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from config.numbers import groups


@require_safe
def numbers(request):
    """Show every formula with its range and its source, to read and to print."""
    return render(request, "numbers.html", {"groups": groups()})

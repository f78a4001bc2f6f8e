"""A number in a form as people write it."""

from typing import Any

from django.forms import NumberInput


class PlainNumber(NumberInput):
    """Shows 100 for a whole number kept as 100.0; what somebody typed stays as typed."""

    def format_value(self, value: Any) -> str | None:
        whole = isinstance(value, float) and value.is_integer()
        return super().format_value(int(value) if whole else value)

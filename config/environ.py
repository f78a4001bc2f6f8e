"""Three readers for the environment. A value that makes no sense stops the start, by name."""

import os
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

YES = {"1", "yes", "true", "on"}
NO = {"0", "no", "false", "off", ""}


def flag(name, default=False):
    """Return a yes or no."""
    raw = os.environ.get(name)
    if raw is None:
        return default
    word = raw.strip().lower()
    if word in YES:
        return True
    if word in NO:
        return False
    raise ImproperlyConfigured(f"{name}={raw!r} is neither yes nor no. Write 1 or 0.")


def number(name, default, low=None, high=None):
    """Return a whole number between low and high."""
    raw = os.environ.get(name, "").strip()
    if not raw:
        return default
    try:
        value = int(raw)
    except ValueError:
        raise ImproperlyConfigured(f"{name}={raw!r} is not a whole number.") from None
    if low is not None and value < low:
        raise ImproperlyConfigured(f"{name}={value} is below {low}, the least that works.")
    if high is not None and value > high:
        raise ImproperlyConfigured(f"{name}={value} is above {high}, the most that works.")
    return value


def text(name, default=""):
    """Return a text, read from the file named in ``NAME_FILE`` where that is set.

    The file is how container platforms hand over secrets without showing them in the process
    list; it may be used for any text.
    """
    file_name = os.environ.get(f"{name}_FILE", "").strip()
    if file_name and name in os.environ:
        raise ImproperlyConfigured(f"{name} and {name}_FILE are both set. Keep one of them.")
    if not file_name:
        return os.environ.get(name, default).strip()
    try:
        return Path(file_name).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as why:
        raise ImproperlyConfigured(f"{name}_FILE={file_name!r} cannot be read: {why}.") from None

"""What the processes write to standard error: lines for people, or JSON for machines."""

import json
import logging
import re
from datetime import UTC, datetime

from django.core.exceptions import ImproperlyConfigured

LEVELS = {"debug", "info", "warning", "error"}
MANNERS = {"lines", "json"}


#: addresses whose last part opens something by itself
SECRET_IN_ADDRESS = re.compile(r"(/(?:join|reset|feed|mail/stop|mail/yes)/)[^/?]+")


class Guarded(logging.Filter):
    """No secret of a link stands in a line, and who was refused is said by number alone."""

    def filter(self, record):
        if isinstance(record.args, tuple):
            record.args = tuple(map(_without_secret, record.args))
        user = _who_asked(getattr(record, "request", None))
        record.account = getattr(user, "pk", None)
        record.by = f" by={record.account}" if record.account else ""
        return True


def _without_secret(told):
    return SECRET_IN_ADDRESS.sub(r"\1...", told) if isinstance(told, str) else told


def _who_asked(request):
    """Who is known already; a line of the log must not ask the database."""
    signed_in = getattr(request, "_cached_user", None)
    return signed_in or getattr(getattr(request, "auth", None), "user", None)


class JsonLine(logging.Formatter):
    """One JSON object a line: when, how grave, who, what; a traceback as one text."""

    def format(self, record):
        line = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(),
            "level": record.levelname.lower(),
            "logger": record.name,
            "words": record.getMessage(),
            "process": record.process,
        }
        if getattr(record, "account", None):
            line["account"] = record.account
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        status = getattr(record, "status_code", None)
        if status:
            line["status"] = status
        return json.dumps(line, ensure_ascii=False)


def logging_as(manner, level):
    """Return Django's LOGGING; a word that makes no sense stops the start."""
    if manner not in MANNERS:
        raise ImproperlyConfigured(f"WD_LOG={manner!r} is not one of {', '.join(sorted(MANNERS))}.")
    if level.lower() not in LEVELS:
        raise ImproperlyConfigured(
            f"WD_LOG_LEVEL={level!r} is not one of {', '.join(sorted(LEVELS))}."
        )
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "lines": {"format": "{asctime} {levelname} {name}: {message}{by}", "style": "{"},
            "json": {"()": "config.logs.JsonLine"},
        },
        "filters": {"guarded": {"()": "config.logs.Guarded"}},
        "handlers": {
            "console": {
                "class": "logging.StreamHandler",
                "formatter": manner,
                "filters": ["guarded"],
            }
        },
        # no news: "depth is 1" whenever a second request comes in, and every delivery's way
        "loggers": {
            "waitress.queue": {"level": "ERROR"},
            "procrastinate": {"level": "DEBUG" if level.lower() == "debug" else "WARNING"},
        },
        "root": {"handlers": ["console"], "level": level.upper()},
    }

"""What the processes write to standard error: lines for people, or JSON for machines."""

import json
import logging
from datetime import UTC, datetime

from django.core.exceptions import ImproperlyConfigured

LEVELS = {"debug", "info", "warning", "error"}
MANNERS = {"lines", "json"}


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
            "lines": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"},
            "json": {"()": "config.logs.JsonLine"},
        },
        "handlers": {"console": {"class": "logging.StreamHandler", "formatter": manner}},
        # no news: "depth is 1" whenever a second request comes in, and every delivery's way
        "loggers": {
            "waitress.queue": {"level": "ERROR"},
            "procrastinate": {"level": "DEBUG" if level.lower() == "debug" else "WARNING"},
        },
        "root": {"handlers": ["console"], "level": level.upper()},
    }

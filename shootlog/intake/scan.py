"""Ask the house's own scanner about a file before it is kept, where the house has one."""

from __future__ import annotations

import logging
import shlex
import subprocess
from pathlib import Path

from django.conf import settings

FOUND = 1  # what scanners say by custom: 0 clean, 1 something was found, all else a trouble
LONGEST_S = 120
log = logging.getLogger(__name__)


class Suspicious(Exception):
    """The scanner objects."""


class NotAsked(Exception):
    """The scanner could not be asked; what cannot be looked at is not taken in."""


def scan(path: Path) -> None:
    """Say nothing where the file is clean, or no scanner is set."""
    if not settings.SCANNER:
        return
    line = [*shlex.split(settings.SCANNER), str(path)]
    try:
        done = subprocess.run(line, capture_output=True, timeout=LONGEST_S)  # noqa: S603 - the house's own
    except (OSError, subprocess.TimeoutExpired) as why:
        log.exception("the scanner could not be asked")
        raise NotAsked from why
    if done.returncode == FOUND:
        raise Suspicious
    if done.returncode:
        log.error("the scanner ended with %s: %s", done.returncode, done.stderr[:500])
        raise NotAsked

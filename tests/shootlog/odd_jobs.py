"""Jobs for the tests of the lease table; importable by a worker in another process."""

import time
from pathlib import Path

from django_tasks import task


@task
def add(a, b):
    return a + b


@task(takes_context=True)
def which_attempt(context):
    return context.attempt


@task
def fail(words):
    raise ValueError(words)


@task
def note(path, line):
    """Leave a line; a line is short enough to be written as a whole."""
    with Path(path).open("a") as file:
        file.write(f"{line}\n")


@task
def dawdle(path):
    """Leave a sign that it began, then take longer than any test."""
    Path(path).write_text("begun")
    time.sleep(600)


@task
def dawdle_once(path):
    """Take for ever the first time, and a moment the second."""
    if Path(path).exists():
        return "done the second time"
    Path(path).write_text("begun")
    time.sleep(600)

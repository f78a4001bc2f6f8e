"""Start real processes of the house for a test, and see that none is left over."""

import contextlib
import os
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import quote

from django.db import connection

BASE = Path(__file__).resolve().parents[1]


def url_of_test_database():
    """The test's own database as an address for another process."""
    set_ = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite://{quote(str(set_['NAME']))}"
    who = f"{quote(set_['USER'])}:{quote(set_['PASSWORD'])}@" if set_["USER"] else ""
    return f"postgresql://{who}{quote(set_['HOST'], safe='')}:{set_['PORT']}/{set_['NAME']}"


def environment(data, **more):
    """What a person's shell would hand over: nothing of the test's own settings."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("WD_", "PYTEST_", "DJANGO_"))}
    return kept | {"WD_DATA": str(data), "WD_VENV": "none"} | more


@contextlib.contextmanager
def manage(*words, env, **popen):
    """Run `manage.py` beside the test; it is gone at the end, whatever happened."""
    line = [sys.executable, str(BASE / "manage.py"), *map(str, words)]
    process = subprocess.Popen(line, env=env, cwd=BASE, **popen)
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def wait_for(what, within_s=60.0):
    """Return what the function gives as soon as it is true."""
    until = time.monotonic() + within_s
    while time.monotonic() < until:
        found = what()
        if found:
            return found
        time.sleep(0.05)
    raise AssertionError(f"{what} stayed false for {within_s} s")


def picture(width, height, quality=60):
    """A photograph's worth of bytes with detail everywhere, the same each time."""
    import io

    import numpy
    from PIL import Image

    soft = numpy.random.default_rng(1).integers(0, 255, (height // 8, width // 8, 3), "uint8")
    file = io.BytesIO()
    Image.fromarray(soft).resize((width, height), Image.Resampling.BICUBIC).save(
        file, "JPEG", quality=quality
    )
    return file.getvalue()

"""What one frame costs: processor seconds, bytes of files, bytes of database.

`python tests/sizing.py FILE...` takes the files into a house of its own in a temporary folder,
reads them with one worker and prints one JSON object. Processor seconds hardly depend on what
else the machine does; that is why they are counted and not the clock.
"""

import json
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.house import BASE, environment  # noqa: E402 - run as a file

TAKE_IN = """
import json, sys, time
from pathlib import Path
from django.contrib.auth import get_user_model
from course.models import Person
from shootlog.intake.receive import receive
user = get_user_model().objects.create_user('sam')
Person.objects.create(user=user, display_name='Sam')
began = time.process_time()
for name in json.loads(Path(NAMES).read_text()):
    with open(name, 'rb') as file:
        receive(file, owner=user, name=Path(name).name)
print(time.process_time() - began)
"""


def folder_bytes(folder):
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def cpu_of(line, env):
    """Run a command; return its output and the processor seconds of it and its children."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(line, env=env, cwd=BASE, capture_output=True, text=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return done.stdout, spent


def measure(names, folder):
    env = environment(folder / "data", OPENBLAS_NUM_THREADS="1")
    manage = [sys.executable, "manage.py"]
    cpu_of([*manage, "migrate", "-v", "0"], env)
    data = folder / "data"
    database = data / "working-distance.sqlite3"
    before = database.stat().st_size
    listed = folder / "names.json"
    listed.write_text(json.dumps([os.path.abspath(name) for name in names]))
    code = TAKE_IN.replace("NAMES", repr(str(listed)))
    said, _ = cpu_of([*manage, "shell", "-v", "0", "-c", code], env)
    _, idle = cpu_of([*manage, "work", "--help"], env)  # starting Python and Django
    _, spent = cpu_of([*manage, "work", "--once"], env)
    empty = "PRAGMA wal_checkpoint(TRUNCATE)"  # so that the file's length says it all
    ask = f"from django.db import connection as c; c.cursor().execute('{empty}')"
    cpu_of([*manage, "shell", "-v", "0", "-c", ask], env)
    count = len(names)
    originals = folder_bytes(data / "files" / "originals")
    return {
        "frames": count,
        "cpu_s_to_take_in_one": float(said.splitlines()[-1]) / count,
        "cpu_s_to_read_one": (spent - idle) / count,
        "original_mb": originals / count / 1e6,
        "shown_mb": folder_bytes(data / "files" / "shown") / count / 1e6,
        "database_kb": (database.stat().st_size - before) / count / 1e3,
    }


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="wd-sizing-") as place:
        told = measure(sys.argv[1:], Path(place))
    print(json.dumps({key: round(value, 3) for key, value in told.items()}))

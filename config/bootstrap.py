"""Make `.venv` from the hash-pinned lock and go on inside it.

Standard library only, and in words that an old Python can still read: this module has to live
long enough to say that the Python is too old.
"""

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

BASE = Path(__file__).resolve().parent.parent
VENV = BASE / ".venv"
OLDEST, NEWEST = (3, 11), (3, 13)
NEEDS_TEST_LOCK = {"test", "lint", "bench"}
OWN_DATA = {"demo": "demo-data"}  # a command that must never touch the owner's data
RUN, MANY, TEST = "requirements.txt", "requirements-many.txt", "requirements-test.txt"
HOLDS = {RUN: [RUN], MANY: [RUN, MANY], TEST: [RUN, MANY, TEST]}  # what each lock brings with it
FREE_MB = {RUN: 700, MANY: 800, TEST: 2500}  # measured: 290, 340 and 1,900


class CannotStart(Exception):
    """A reason in words for the person at the keyboard, with the way out."""


def enter(argv):
    """Return inside a ready `.venv`, or leave with a clear word."""
    command = argv[1] if len(argv) > 1 else "help"
    name_the_data_folder(command, argv[2:])
    if os.environ.get("WD_VENV") == "none":  # a container image that brings its own packages
        return
    try:
        make_ready(lock_for(command))
    except CannotStart as why:
        sys.exit(f"Cannot start: {why}")
    except KeyboardInterrupt:
        sys.exit("\nStopped. The next start goes on from here.")


def lock_for(command):
    """A database server or an object store needs its packages; one machine needs neither."""
    if command in NEEDS_TEST_LOCK:
        return TEST
    told = os.environ.get
    database = told("WD_DATABASE_URL_FILE") or told("WD_DATABASE_URL", "").startswith("postgres")
    return MANY if database or told("WD_STORAGE_URL_FILE") or told("WD_STORAGE_URL") else RUN


def name_the_data_folder(command, rest):
    """`--data DIR` must be known before the settings are read."""
    for place, word in enumerate(rest):
        if word == "--data" and place + 1 < len(rest):
            os.environ["WD_DATA"] = rest[place + 1]
        elif word.startswith("--data="):
            os.environ["WD_DATA"] = word.split("=", 1)[1]
    if command in OWN_DATA:
        named = any(word.split("=")[0] == "--data" for word in rest)
        if not named:
            os.environ["WD_DATA"] = str(BASE / OWN_DATA[command])


def make_ready(lock):
    if inside() and is_stamped(lock):
        return
    if not is_whole(lock):
        if not fits():
            go_on_with(find_python())
        with only_one():
            if not is_whole(lock):  # another start may have made it meanwhile
                prepare(lock)
    go_inside()


def is_whole(lock):
    return is_stamped(lock) and can_run(venv_python())


def inside():
    return os.path.realpath(sys.prefix) == os.path.realpath(VENV)


def fits():
    return OLDEST <= sys.version_info[:2] <= NEWEST


def venv_python():
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def go_inside():
    """Run the same command line with the environment's Python, in this process's place."""
    if os.environ.get("WD_ENTERED") == str(os.getpid()) and not inside():
        raise CannotStart(f"{VENV} does not start a Python of its own. Delete it and start again.")
    os.environ["WD_ENTERED"] = str(os.getpid())
    go_on_with(str(venv_python()))


def go_on_with(python):
    sys.stdout.flush()
    line = [python, *sys.argv]
    if os.name == "nt":
        sys.exit(subprocess.call(line))
    os.execv(python, line)  # noqa: S606


# --- the stamp: which lock, made by which Python ---


def stamp_file():
    return VENV / "working-distance.json"


def read_stamp():
    try:
        return json.loads(stamp_file().read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}


def digest(lock):
    return hashlib.sha256((BASE / lock).read_bytes()).hexdigest()


def is_stamped(lock):
    stamp = read_stamp()
    if inside() and stamp.get("python") != f"{sys.version_info[0]}.{sys.version_info[1]}":
        return False  # the system's Python was upgraded under the environment
    return not stamp.get("installing") and stamp.get(lock) == digest(lock)


def write_stamp(**words):
    stamp_file().write_text(json.dumps(words, indent=1), encoding="utf-8")


# --- making it ---


def prepare(lock):
    """Make or repair the environment. The stamp says 'installing' until all of it is there."""
    stamp = read_stamp()
    fresh = not can_run(venv_python()) or not has_pip(venv_python())
    broken = stamp.get("installing") and not VENV.is_symlink()  # a linked one is not ours to clear
    wanted = lock
    if fresh or broken or changed_python(stamp):
        make_venv(getattr(sys, "_base_executable", None) or sys.executable)
    else:  # keep what the larger one had, as one set
        wanted = max([lock, *(set(stamp) & set(HOLDS))], key=list(HOLDS).index)
    check_disk(wanted)
    write_stamp(installing=wanted)
    install(wanted)
    done = {name: digest(name) for name in HOLDS[wanted]}
    write_stamp(python=version_of(venv_python()), **done)
    say("The environment is ready.")


def changed_python(stamp):
    return "python" in stamp and stamp["python"] != version_of(venv_python())


def can_run(python):
    try:
        return version_of(python) is not None
    except (OSError, subprocess.SubprocessError):
        return False


def has_pip(python):
    return subprocess.call([str(python), "-c", "import pip"], stderr=subprocess.DEVNULL) == 0


def version_of(python):
    code = "import sys; print('%d.%d' % sys.version_info[:2])"
    return subprocess.check_output([str(python), "-c", code]).decode().strip()


def find_python():
    """Return a Python on the path that fits where this one does not."""
    for minor in range(NEWEST[1], OLDEST[1] - 1, -1):
        found = shutil.which(f"python3.{minor}")
        if found:
            say(f"This is Python {sys.version_info[0]}.{sys.version_info[1]}; using {found}.")
            return found
    raise CannotStart(
        f"this is Python {sys.version_info[0]}.{sys.version_info[1]} ({sys.executable}); "
        f"it needs {OLDEST[0]}.{OLDEST[1]} to {NEWEST[0]}.{NEWEST[1]}. "
        "Install one of these (Debian 12 and 13 bring one: apt install python3 python3-venv) "
        "and start with it, for instance: python3.12 manage.py demo"
    )


def make_venv(python):
    say(f"Making {VENV} (first start; the next one takes seconds).")
    if subprocess.call([python, "-c", "import venv, ensurepip"], stderr=subprocess.DEVNULL):
        raise CannotStart(
            f"{python} has no venv and ensurepip. "
            f"On Debian or Ubuntu: apt install python3-venv (or python{version_of(python)}-venv)."
        )
    if VENV.is_symlink() and not VENV.exists():
        raise CannotStart(f"{VENV} is a link to nowhere. Delete it and start again.")
    line = [python, "-m", "venv", str(VENV)]
    if not VENV.is_symlink():
        line.insert(3, "--clear")
    made = subprocess.run(line, capture_output=True, text=True, check=False)
    if made.returncode:
        raise CannotStart(explain(made.stdout + made.stderr, f"{VENV} could not be made"))


def check_disk(lock):
    free_mb = shutil.disk_usage(BASE).free // 1_000_000
    if free_mb < FREE_MB[lock]:
        raise CannotStart(
            f"{free_mb} MB are free where {BASE} lies; the packages need {FREE_MB[lock]} MB."
        )


def install(lock):
    """Install the lock with pip and show how far it is."""
    total = len(re.findall(r"^[a-z][^\s]*==", (BASE / lock).read_text(), flags=re.MULTILINE))
    line = [str(venv_python()), "-m", "pip", "install", "--require-hashes"]
    line += ["--only-binary", ":all:", "--progress-bar", "off", "--no-input"]
    line += ["--disable-pip-version-check", "-r", str(BASE / lock)]
    say(f"Installing from {lock}: {total} packages at most, each checked against its hash.")
    pip = subprocess.Popen(
        line, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace"
    )
    heard, seen = [], 0
    try:
        for row in pip.stdout:
            heard.append(row)
            if row.startswith("Collecting ") or row.startswith("Requirement already"):
                seen += 1
                progress(seen, total)
            elif row.startswith("Installing collected"):
                progress(seen, total, " unpacking")
    except KeyboardInterrupt:
        pip.terminate()
        raise
    finally:
        end_progress()
    if pip.wait():
        raise CannotStart(explain("".join(heard), "the packages could not be installed"))


def explain(output, otherwise):
    """Turn what pip or venv said into one clear word, its own last lines below."""
    last = "\n".join(line for line in output.splitlines() if "WARNING" not in line)[-1500:]
    for pattern, word in REASONS:
        if re.search(pattern, output):
            return f"{word}\n\nThe last lines were:\n{last}"
    return f"{otherwise}. The last lines were:\n{last}"


REASONS = [
    (r"No space left on device|Errno 28", "the disk is full. Make room and start again."),
    (
        r"DO NOT MATCH THE HASHES",
        "a package did not match its hash, so it was not installed. Something between here and "
        "the package index changes files (a cache, a proxy), or the lock was edited by hand.",
    ),
    (
        r"NewConnectionError|Temporary failure in name resolution|Network is unreachable"
        r"|ConnectTimeout|ReadTimeout|Connection refused|ProxyError|SSLError|NameResolutionError",
        "the package index could not be reached. The first start needs the network "
        "(a proxy is taken from https_proxy, a mirror from pip's own settings); later ones do not.",
    ),
    (
        r"No matching distribution found",
        "a package has no ready-made file for this machine. Linux with glibc, macOS and Windows "
        "on 64-bit Intel or ARM have them; Alpine and 32-bit systems do not.",
    ),
    (r"Permission denied|Errno 13", "this folder may not be written by you."),
]


# --- one at a time, and talking ---


class only_one:  # noqa: N801 - read as a word: with only_one():
    """Two first starts at once must not install over each other."""

    def __enter__(self):
        self.file = None
        try:
            import fcntl
        except ImportError:  # Windows
            return
        beside = Path(os.path.realpath(VENV))
        try:
            self.file = open(beside.parent / (beside.name + ".lock"), "w")  # noqa: SIM115
        except OSError as why:
            raise CannotStart(f"{beside.parent} may not be written: {why.strerror}.") from why
        try:
            fcntl.flock(self.file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            say("Another start is making the environment; waiting for it.")
            fcntl.flock(self.file, fcntl.LOCK_EX)

    def __exit__(self, *_):
        if self.file:
            self.file.close()


def say(words):
    print(words, file=sys.stderr, flush=True)


def progress(done, total, what=""):
    if sys.stderr.isatty():
        print(f"\r  {done} of {total}{what}    ", end="", file=sys.stderr, flush=True)
    elif done % 10 == 0 or what:
        say(f"  {done} of {total}{what}")


def end_progress():
    if sys.stderr.isatty():
        print(file=sys.stderr)

"""The first start: from nothing but a Python to a ready environment, and every way it can fail."""

import ast
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

from config import bootstrap
from tests.house import BASE

START = (
    "import sys; from config import bootstrap; bootstrap.enter(sys.argv); print('in', sys.prefix)"
)
NOWHERE = {
    # nobody listens on the discard port of this machine: the network is as good as cut
    "PIP_INDEX_URL": "http://127.0.0.1:9/simple",
    "PIP_CONFIG_FILE": os.devnull,
    "PIP_RETRIES": "1",
}


class Place:
    """A folder with the starting code and a lock of its own."""

    def __init__(self, folder):
        self.folder = folder
        (folder / "config").mkdir()
        (folder / "config" / "__init__.py").touch()
        code = (BASE / "config" / "bootstrap.py").read_text()
        (folder / "config" / "bootstrap.py").write_text(code)
        (folder / "start.py").write_text(START)
        self.lock("# nothing")

    @property
    def stamp(self):
        return self.folder / ".venv" / "working-distance.json"

    def lock(self, text):
        for name in ["requirements.txt", "requirements-many.txt", "requirements-test.txt"]:
            (self.folder / name).write_text(text)

    def begin(self, *words, python=sys.executable, **env):
        kept = {k: v for k, v in os.environ.items() if not k.startswith(("PIP_", "WD_"))}
        return subprocess.Popen(
            [python, "start.py", *words],
            cwd=self.folder,
            env=kept | NOWHERE | env,
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )

    def start(self, *words, **how):
        with self.begin(*words, **how) as process:
            out, said = process.communicate(timeout=120)
        assert "Traceback" not in said
        return process.returncode, out, said


@pytest.fixture
def place(tmp_path):
    return Place(tmp_path)


@pytest.fixture(scope="module")
def made_once(tmp_path_factory):
    """An environment from a first start, to be copied; making one takes seconds."""
    place = Place(tmp_path_factory.mktemp("made"))
    assert place.start("check")[0] == 0
    return place.folder / ".venv"


@pytest.fixture
def ready(place, made_once):
    """A place that was started before."""
    shutil.copytree(made_once, place.folder / ".venv", symlinks=True)
    return place


def wheel(folder, name):
    """Write a wheel that holds one module, and return its lock line."""
    file = folder / f"{name}-1.0-py3-none-any.whl"
    info = f"{name}-1.0.dist-info"
    with zipfile.ZipFile(file, "w") as packed:
        packed.writestr(f"{name}.py", "there = True\n")
        packed.writestr(f"{info}/METADATA", f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n")
        packed.writestr(
            f"{info}/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
        )
        packed.writestr(f"{info}/RECORD", "")
    return f"{name}==1.0 --hash=sha256:{hashlib.sha256(file.read_bytes()).hexdigest()}\n"


# --- what it is written in ---


def test_an_old_python_can_read_the_words_that_refuse_it():
    for name in ["manage.py", "config/bootstrap.py", "config/__init__.py"]:
        ast.parse((BASE / name).read_text(), feature_version=(3, 6))


def test_starting_needs_the_standard_library_only():
    tree = ast.parse((BASE / "config" / "bootstrap.py").read_text())
    for node in ast.walk(tree):
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        names += [node.module] if isinstance(node, ast.ImportFrom) else []
        for name in names:
            assert name.partition(".")[0] in sys.stdlib_module_names


def test_the_test_lock_holds_the_run_lock():
    """Tests run against the versions that people run."""
    run, many, test = (
        set(re.findall(r"^[a-z0-9-]+==\S+", (BASE / name).read_text(), flags=re.MULTILINE))
        for name in ["requirements.txt", "requirements-many.txt", "requirements-test.txt"]
    )
    assert run
    assert run <= many <= test


def test_a_database_server_or_an_object_store_brings_its_packages(monkeypatch):
    for name in (
        "WD_DATABASE_URL",
        "WD_DATABASE_URL_FILE",
        "WD_STORAGE_URL",
        "WD_STORAGE_URL_FILE",
    ):
        monkeypatch.delenv(name, raising=False)
    assert bootstrap.lock_for("serve") == "requirements.txt"
    monkeypatch.setenv("WD_DATABASE_URL", "sqlite:///x/y.sqlite3")
    assert bootstrap.lock_for("serve") == "requirements.txt"
    monkeypatch.setenv("WD_DATABASE_URL", "postgresql://db/course")
    assert bootstrap.lock_for("work") == "requirements-many.txt"
    assert bootstrap.lock_for("test") == "requirements-test.txt"
    monkeypatch.delenv("WD_DATABASE_URL")
    monkeypatch.setenv("WD_STORAGE_URL_FILE", "/run/secrets/storage")
    assert bootstrap.lock_for("work") == "requirements-many.txt"


# --- real starts ---


@pytest.mark.slow
def test_the_first_start_makes_it_and_the_next_ones_need_no_network(place):
    code, out, said = place.start("check")
    assert code == 0, said
    assert out.strip() == f"in {place.folder / '.venv'}"
    assert "Making" in said
    made = place.stamp.stat().st_mtime_ns
    began = time.monotonic()
    code, out, said = place.start("check")
    assert (code, said) == (0, "")
    assert time.monotonic() - began < 10
    assert place.stamp.stat().st_mtime_ns == made


@pytest.mark.slow
def test_a_changed_lock_is_installed_and_the_tests_have_theirs(ready):
    find = {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": str(ready.folder)}
    (ready.folder / "requirements.txt").write_text(wheel(ready.folder, "shutter"))
    both = wheel(ready.folder, "shutter") + wheel(ready.folder, "bellows")
    (ready.folder / "requirements-test.txt").write_text(both)
    assert ready.start("check", **find)[0] == 0
    python = ready.folder / ".venv" / "bin" / "python"
    assert subprocess.call([python, "-c", "import shutter"]) == 0
    assert subprocess.call([python, "-c", "import bellows"], stderr=subprocess.DEVNULL) == 1
    assert ready.start("test", **find)[0] == 0
    assert subprocess.call([python, "-c", "import bellows"]) == 0
    assert set(json.loads(ready.stamp.read_text())) == {
        "python",
        "requirements.txt",
        "requirements-test.txt",
    }


@pytest.mark.slow
def test_an_interrupted_install_is_made_anew(ready):
    half = ready.folder / ".venv" / "half-a-package"
    half.touch()
    ready.stamp.write_text(json.dumps({"installing": "requirements.txt"}))
    code, _, said = ready.start("check")
    assert code == 0, said
    assert not half.exists()


@pytest.mark.slow
def test_a_linked_environment_is_filled_but_never_cleared(place, tmp_path_factory):
    elsewhere = tmp_path_factory.mktemp("elsewhere") / "env"
    subprocess.check_call([sys.executable, "-m", "venv", elsewhere])
    (elsewhere / "somebody's").touch()
    (place.folder / ".venv").symlink_to(elsewhere)
    place_stamp = {"installing": "requirements.txt"}
    place.stamp.write_text(json.dumps(place_stamp))
    code, _, said = place.start("check")
    assert code == 0, said
    assert (elsewhere / "somebody's").exists()


@pytest.mark.slow
def test_two_first_starts_at_once_wait_for_each_other(place):
    with place.begin("check") as one, place.begin("check") as two:
        said = [process.communicate(timeout=120) for process in (one, two)]
    assert [one.returncode, two.returncode] == [0, 0], said
    assert sum("Making" in errors for _, errors in said) == 1


@pytest.mark.slow
def test_without_a_network_the_first_start_says_so(ready):
    ready.lock("pillow==13.0.0 --hash=sha256:" + "0" * 64)
    code, _, said = ready.start("check")
    assert code == 1
    assert "Cannot start: the package index could not be reached" in said
    ready.lock("# nothing")  # the network is back
    assert ready.start("check")[0] == 0


@pytest.mark.slow
def test_a_package_that_does_not_match_its_hash_is_not_installed(ready):
    wheel(ready.folder, "shutter")
    ready.lock("shutter==1.0 --hash=sha256:" + "0" * 64)
    code, _, said = ready.start("check", PIP_NO_INDEX="1", PIP_FIND_LINKS=str(ready.folder))
    assert code == 1
    assert "a package did not match its hash" in said


@pytest.mark.slow
def test_an_environment_without_its_python_is_made_anew(ready):
    (ready.folder / ".venv" / "bin" / "python").unlink()
    code, _, said = ready.start("check")
    assert code == 0, said
    assert "Making" in said


# --- what it says ---


def test_a_python_too_old_is_refused_with_the_way_out(monkeypatch):
    monkeypatch.setattr(bootstrap.sys, "version_info", (3, 9, 2, "final", 0))
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: None)
    with pytest.raises(bootstrap.CannotStart, match=r"Python 3\.9.*3\.11 to 3\.13.*apt install"):
        bootstrap.find_python()


def test_a_python_too_new_gives_way_to_one_that_fits(monkeypatch):
    monkeypatch.setattr(bootstrap.sys, "version_info", (3, 14, 0, "final", 0))
    there = {"python3.12": "/usr/bin/python3.12", "python3.11": "/usr/bin/python3.11"}
    monkeypatch.setattr(bootstrap.shutil, "which", there.get)
    assert bootstrap.find_python() == "/usr/bin/python3.12"


def test_a_python_without_venv_is_told_which_package_brings_it(monkeypatch):
    monkeypatch.setattr(bootstrap.subprocess, "call", lambda *line, **how: 1)
    with pytest.raises(bootstrap.CannotStart, match="apt install python3-venv"):
        bootstrap.make_venv(sys.executable)


def test_a_disk_too_full_is_known_before_anything_is_written(monkeypatch):
    usage = type("usage", (), {"free": 50_000_000})
    monkeypatch.setattr(bootstrap.shutil, "disk_usage", lambda path: usage)
    with pytest.raises(bootstrap.CannotStart, match="50 MB are free"):
        bootstrap.check_disk("requirements.txt")


@pytest.mark.parametrize(
    ("pip_said", "word"),
    [
        # as pip 23.0 and 24.0 print them
        ("ERROR: Could not install: [Errno 28] No space left on device", "the disk is full"),
        ("socket.gaierror: Temporary failure in name resolution", "could not be reached"),
        ("ERROR: No matching distribution found for rawpy==0.28.0", "no ready-made file"),
        ("PermissionError: [Errno 13] Permission denied: '/srv/x'", "may not be written"),
        ("something nobody has seen", "it went wrong. The last lines were:\nsomething nobody"),
    ],
)
def test_what_pip_says_becomes_one_clear_word(pip_said, word):
    assert word in bootstrap.explain(pip_said, "it went wrong")


@pytest.mark.parametrize(
    ("words", "data"),
    [
        (["serve", "--data", "/srv/wd"], "/srv/wd"),
        (["serve", "--port", "1", "--data=/srv/wd"], "/srv/wd"),
        (["serve"], None),
        (["demo"], str(BASE / "demo-data")),
        (["demo", "--data", "/tmp/show"], "/tmp/show"),
    ],
)
def test_the_data_folder_is_known_before_the_settings(monkeypatch, words, data):
    monkeypatch.delenv("WD_DATA", raising=False)
    monkeypatch.setattr(bootstrap.os, "environ", dict(os.environ))
    bootstrap.name_the_data_folder(words[0], words[1:])
    assert bootstrap.os.environ.get("WD_DATA") == data


def test_the_demo_never_touches_the_owners_data(monkeypatch):
    monkeypatch.setattr(bootstrap.os, "environ", {"WD_DATA": "/srv/mine"})
    bootstrap.name_the_data_folder("demo", [])
    assert Path(bootstrap.os.environ["WD_DATA"]) == BASE / "demo-data"

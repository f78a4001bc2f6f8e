"""From the release before to this one: the tables move on, and everything is still there.

`fixtures/releases` holds what each release's own code made (see `make.py` there). What is compared
is read with Python's sqlite3, column by column, before and after.
"""

import json
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing

import pytest

from config import cluster
from tests.house import BASE, environment

RELEASES = BASE / "fixtures" / "releases"
BEFORE = sorted(p.stem for p in RELEASES.glob("*.zip") if not p.stem.endswith("-backup"))
SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
#: columns whose values an update changes on purpose, and tables it fills itself
CHANGED = {("course_secondfactor", "secret")}
GOES_ON = {"django_migrations", "django_content_type", "auth_permission", "sqlite_sequence"}
#: one process for all of it: prepare, verify, the pages, the second code
LIVE_IN_IT = """
import json, time, pyotp
from django.conf import settings
from django.db import connection
from django.core.management import call_command
from django.test import Client
from django.contrib.auth.models import User
from course.models import Crit, HandIn, SecondFactor
from shootlog.models import Frame
call_command('prepare')
if connection.vendor == 'sqlite':
    connection.cursor().execute('VACUUM INTO %s', [str(settings.DATA / 'after.sqlite3')])
call_command('verify')
told = {}
for name, pages in {'sam': ['/log/', '/this-week/', '/me/things/'],
                    'ines': ['/to-look-at/', '/groups/', '/course/', '/house/']}.items():
    client = Client()
    client.force_login(User.objects.get(username=name))
    told |= {page: client.get(page, HTTP_HOST='localhost').status_code for page in pages}
factor = SecondFactor.objects.get()
told['code'] = factor.takes(pyotp.TOTP(SECRET).at(int(time.time())))
told['codes'] = factor.recovery_codes.count()
frame = Frame.objects.earliest('pk')
own = Client()
own.force_login(frame.owner)
told['original'] = own.get(f'/log/{frame.pk}/original', HTTP_HOST='localhost').status_code
told['crits'] = list(Crit.objects.values_list('words', flat=True))
told['sums'] = sorted(Frame.objects.values_list('sha256', flat=True))
print('TOLD', json.dumps(told))
""".replace("SECRET", repr(SECRET))


def manage(*words, env):
    line = [sys.executable, str(BASE / "manage.py"), *map(str, words)]
    return subprocess.run(line, env=env, cwd=BASE, capture_output=True, text=True, timeout=300)


def tables(file):
    """Every table as {name: (columns, rows)}, by the first column."""
    with closing(sqlite3.connect(file)) as opened:
        names = opened.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        found = {}
        for (name,) in names:
            rows = opened.execute(f'SELECT * FROM "{name}" ORDER BY 1')
            found[name] = ([column[0] for column in rows.description], rows.fetchall())
        return found


def column(table, name):
    columns, rows = table
    return [row[columns.index(name)] for row in rows]


@pytest.fixture
def data(tmp_path):
    return tmp_path / "data"


def test_there_is_a_release_before():
    assert BEFORE


@pytest.mark.parametrize("version", BEFORE)
def test_an_update_in_place_keeps_every_value_and_the_house_opens(version, data):
    with zipfile.ZipFile(RELEASES / f"{version}.zip") as kept:
        kept.extractall(data)
    (data / "secret-key").chmod(0o600)
    database = data / "working-distance.sqlite3"
    before = tables(database)
    done = manage("shell", "-v", "0", "-c", LIVE_IN_IT, env=environment(data))
    assert done.returncode == 0, done.stderr
    assert "Kept a copy of the database first" in done.stdout
    assert "0 lost, 0 not needed" in done.stdout
    told = json.loads(done.stdout.partition("TOLD ")[2])
    pages = {page: status for page, status in told.items() if page.startswith("/")}
    assert set(pages.values()) == {200}, pages
    assert told["original"] == 200
    assert told["code"] is True
    assert told["codes"] == 8
    assert told["crits"] == ["Closer."]
    assert told["sums"] == sorted(column(before["shootlog_frame"], "sha256"))
    after = tables(data / "after.sqlite3")  # the moment after the tables had moved on
    compared = 0
    for table, (columns, rows) in before.items():
        for name in columns:
            if table in GOES_ON or (table, name) in CHANGED:
                continue
            assert column(after[table], name) == column((columns, rows), name), (table, name)
            compared += len(rows)
    assert compared > 150
    # what was plain is nowhere in the file now; the copy kept before the update says so itself
    assert SECRET.encode() not in database.read_bytes()
    (copy,) = (data / "kept").iterdir()
    assert (SECRET.encode() in copy.read_bytes()) == (version == "0.1.0")


def check_restored(version, env):
    done = manage("restore", RELEASES / f"{version}-backup.zip", env=env)
    assert done.returncode == 0, done.stderr
    done = manage("shell", "-v", "0", "-c", LIVE_IN_IT, env=env)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout.partition("TOLD ")[2])
    assert (told["code"], told["original"], told["crits"]) == (True, 200, ["Closer."])
    assert {status for page, status in told.items() if page.startswith("/")} == {200}


@pytest.mark.slow
@pytest.mark.parametrize("version", BEFORE)
def test_a_backup_of_the_release_before_is_put_back_and_moves_on(version, data):
    check_restored(version, environment(data))


@pytest.mark.slow
@pytest.mark.parametrize("version", BEFORE)
def test_the_same_into_postgresql(version, data):
    try:
        with cluster.private_cluster() as url:
            check_restored(version, environment(data, WD_DATABASE_URL=url))
    except cluster.NoCluster as why:
        pytest.skip(str(why))

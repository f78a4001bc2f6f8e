"""The cast, a private folder for files, the background worker, and the browser.

ines teaches, arno assists, sam and noor learn with her; greta teaches another course; otto is
enrolled in nothing. A test that says who may see what reads as prose with them.
"""

import os
import secrets
import shutil

import pytest
from django.core.files.storage import storages
from django.test import Client
from hypothesis import HealthCheck, settings

from config import storage
from course.models import Course, Enrolment, Group, Person, Teaching
from shootlog import lease

# Playwright runs an event loop in the test's own thread, and Django would refuse the database.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

# A crowded machine is slow at making up examples; that says nothing of what is tested.
settings.register_profile("crowded", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("crowded")

CHROMIUM_FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-fake-device-for-media-stream",  # a beep for the microphone
    "--use-fake-ui-for-media-stream",  # and nobody to ask whether it may be used
]


def pytest_addoption(parser):
    parser.addoption(
        "--only-database",
        action="store_true",
        help="only tests that use the database: what is worth running on another one",
    )


def pytest_collection_modifyitems(config, items):
    if not config.getoption("--only-database"):
        return
    uses = {True: [], False: []}
    for item in items:
        names = {"db", "transactional_db", "live_server"} & set(getattr(item, "fixturenames", ()))
        uses[bool(names or item.get_closest_marker("django_db"))].append(item)
    items[:] = uses[True]
    config.hook.pytest_deselected(items=uses[False])


@pytest.fixture(autouse=True)
def _files_of_this_test(settings, tmp_path):
    """Files go to a folder of this test, never to the owner's."""
    settings.DATA = tmp_path
    settings.ARRIVING = tmp_path / "arriving"
    settings.MEDIA_ROOT = tmp_path / "files"
    # a new dict, so that the setting's own is left as it was
    default = settings.STORAGES["default"] | {
        "OPTIONS": settings.STORAGES["default"]["OPTIONS"] | {"location": settings.MEDIA_ROOT}
    }
    settings.STORAGES = settings.STORAGES | {"default": default}
    assert storages["default"].location == str(settings.MEDIA_ROOT)


@pytest.fixture(scope="session")
def _s3_server():
    """An S3 server of this run (moto, Apache-2.0); it speaks the protocol and checks no rights."""
    server = pytest.importorskip("moto.server").ThreadedMotoServer(port=0, verbose=False)
    server.start()
    yield "s3+http://key:secret@{}:{}".format(*server.get_host_and_port())
    server.stop()


@pytest.fixture
def on_s3(_s3_server, settings):
    """Files of this test go to a bucket of its own; gives its address."""
    url = f"{_s3_server}/bucket-{secrets.token_hex(4)}/house"
    settings.STORAGES = settings.STORAGES | {"default": storage.from_url(url)}
    storages["default"].bucket.create()
    return url


# --- the cast ---


@pytest.fixture
def make_person(db, django_user_model):
    """Return a function that makes a person; the name is the user name and the password."""

    def make(name, *, may_teach=False):
        user = django_user_model.objects.create_user(name, password=name)
        Person.objects.create(user=user, display_name=name.title(), may_teach=may_teach)
        return user

    return make


@pytest.fixture
def course(db):
    return Course.objects.create(title="Small worlds")


@pytest.fixture
def group(course):
    return Group.objects.create(course=course, name="Spring group")


@pytest.fixture
def other_course(db):
    return Course.objects.create(title="Table top")


@pytest.fixture
def ines(make_person, course):
    user = make_person("ines", may_teach=True)
    Teaching.objects.create(course=course, user=user, role=Teaching.INSTRUCTOR)
    return user


@pytest.fixture
def arno(make_person, course):
    user = make_person("arno")
    Teaching.objects.create(course=course, user=user, role=Teaching.ASSISTANT)
    return user


@pytest.fixture
def sam(make_person, group):
    user = make_person("sam")
    Enrolment.objects.create(group=group, user=user)
    return user


@pytest.fixture
def noor(make_person, group):
    user = make_person("noor")
    Enrolment.objects.create(group=group, user=user)
    return user


@pytest.fixture
def otto(make_person):
    return make_person("otto")


@pytest.fixture
def greta(make_person, other_course):
    user = make_person("greta", may_teach=True)
    Teaching.objects.create(course=other_course, user=user, role=Teaching.INSTRUCTOR)
    return user


@pytest.fixture
def as_person():
    """Return a function that gives a client signed in as someone."""

    def sign_in(user):
        client = Client()
        client.force_login(user)
        return client

    return sign_in


# --- frames ---


@pytest.fixture
def make_frame(db):
    """Return a function that makes a frame which was read, with the numbers given.

    Numbers are recorded unless given as (value, origin); pictures are small and grey.
    """
    from tests.frames import make_frame

    return make_frame


# --- background work ---


@pytest.fixture
def work(db):
    """Return a function that does all background work that is due, here and now."""
    return lambda: lease.drain("a test")


# --- the browser ---


def chromium():
    names = ["chromium", "chromium-browser", "google-chrome"]
    return next(filter(None, map(shutil.which, names)), None)


@pytest.fixture(scope="session")
def browser_type_launch_args():
    if chromium() is None:
        pytest.skip("no Chromium here; as root on Debian `manage.py test` installs it")
    return {"executable_path": chromium(), "args": CHROMIUM_FLAGS}


@pytest.fixture
def open_as(live_server, context, page):
    """Return a function that opens a path in the browser, signed in as someone or as nobody.

    A message on the browser's console that is an error fails the test when it ends.
    """
    said = []
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else 0)
    page.on("pageerror", lambda trouble: said.append(str(trouble)))

    def open_path(user, path):
        if user is not None:
            client = Client()
            client.force_login(user)
            cookie = client.cookies["sessionid"].value
            context.add_cookies(
                [{"name": "sessionid", "value": cookie, "url": live_server.url, "httpOnly": True}]
            )
        page.goto(live_server.url + path)
        return page

    yield open_path
    assert said == []

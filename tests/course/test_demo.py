"""The invented group: all of it goes in by the doors people use, once."""

import tomllib

import pytest
from django.core.management import call_command

from course import demo_group
from course.models import Crit, Group, HandIn, Person
from shootlog.models import Frame, Job, Series

pytestmark = pytest.mark.django_db
BROUGHT = tomllib.loads((demo_group.FOLDER / "frames" / "index.toml").read_text())["frame"]


def quiet(words):
    """The demo says what it does; a test need not hear it."""


def test_the_group_comes_whole_and_only_once():
    people = demo_group.load(quiet)
    assert len(people) == 8
    assert {role for _, role, _ in people} == {"instructor", "assistant", "student"}
    assert Frame.objects.count() == len(BROUGHT) >= 55
    assert Job.objects.count() == len(BROUGHT)  # each waits to be read
    assert HandIn.objects.filter(reshoot_of__isnull=False).count() == 2
    kinds = set(Series.objects.values_list("kind", flat=True))
    assert {"stack", "apertures", "light", "approach"} <= kinds
    assert Crit.objects.exclude(released_at=None).count() >= 8
    assert Crit.objects.filter(released_at=None).exists()
    before = HandIn.objects.count(), Person.objects.count(), Frame.objects.count()
    demo_group.load(quiet)
    assert before == (HandIn.objects.count(), Person.objects.count(), Frame.objects.count())
    assert Group.objects.count() == 1


def test_everyone_can_sign_in_and_sees_their_place(client):
    people = demo_group.load(quiet)
    for _, role, name in people:
        assert client.login(username=name, password=demo_group.PASSWORD)
        place = "/this-week/" if role == "student" else "/to-look-at/"
        assert client.get("/").url == place
        assert client.get(place).status_code == 200


@pytest.mark.slow
def test_no_frame_is_called_what_it_is_not(work):
    """Truth: fixtures/demo/frames/index.toml, from the scenes that were rendered."""
    demo_group.load(quiet)
    work()
    said_wrongly = []
    for row in BROUGHT:
        frame = Frame.objects.get(sent_name=row["file"])
        assert frame.state == "ready", row["file"]
        fair = set(row["true"]["findings"]) | set(row["true"]["may_find"])
        # "likely, please check" is a question to the student and no claim
        raised = set(frame.flags.exclude(sure="likely").values_list("finding", flat=True))
        said_wrongly += [(row["file"], slug) for slug in raised - fair]
    assert said_wrongly == []


def test_the_command_is_there():
    with pytest.raises(SystemExit):
        call_command("demo", "--help")

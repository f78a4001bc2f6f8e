"""Mails: one a day at most, nothing in them for strangers, and an end without signing in."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from course import digests
from course.models import Digest, Group, Person
from shootlog.models import Job

pytestmark = pytest.mark.django_db

MORNING = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)
EVENING = datetime(2026, 5, 4, 17, 0, 1, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _a_house_with_mail(settings):
    settings.MAIL_IS_ON = True
    settings.MAIL_HOUR = 17
    settings.PUBLIC_URL = "https://course.example.org"
    settings.DEFAULT_FROM_EMAIL = "Working Distance <course@example.org>"


@pytest.fixture
def clock(monkeypatch):
    """Return a function that sets what time it is for all of the house."""

    def it_is(moment):
        monkeypatch.setattr(timezone, "now", lambda: moment)

    it_is(MORNING)
    return it_is


@pytest.fixture
def sam_hears(sam):
    Person.objects.filter(user=sam).update(mail_to="sam@example.org")
    sam.refresh_from_db()
    return sam


@pytest.fixture
def answered(clock, ines, sam_hears, hand_in):
    """Return a function that hands something in and answers it at once."""

    def answer(*, words="Held at the left edge.", again=""):
        row = hand_in(sam_hears, handed_in_at=MORNING)
        row.crit_by(ines).save_said(revision=0, words=words)
        if again:
            row.ask_reshoot(by=ines, one_thing=again)
        else:
            row.keep(by=ines)
        row.release(by=ines)
        return row

    return answer


def test_what_came_back_in_a_day_is_told_in_one_mail_at_its_hour(answered, clock, work):
    answered()
    answered(again="The same edge at f/8.")
    work()
    assert mail.outbox == []
    clock(EVENING)
    work()
    (said,) = mail.outbox
    assert said.to == ["sam@example.org"]
    assert "2 of your hand-ins were answered" in said.body
    assert "1 of them asks for a reshoot" in said.body
    assert "https://course.example.org/this-week/" in said.body
    work()
    assert len(mail.outbox) == 1


def test_what_comes_after_the_hour_is_told_tomorrow(answered, clock, work):
    answered()
    clock(EVENING)
    work()
    clock(EVENING + timedelta(hours=2))
    answered()
    work()
    assert len(mail.outbox) == 1
    clock(EVENING + timedelta(days=1))
    work()
    assert len(mail.outbox) == 2
    assert "1 of your hand-ins was answered" in mail.outbox[1].body


def test_nothing_a_stranger_should_not_read_is_in_it(answered, clock, work, ines, course, group):
    row = answered(words="Held at the left edge.", again="The rail on the bench by the pond.")
    clock(EVENING)
    work()
    (said,) = mail.outbox
    whole = said.message().as_string()
    for private in (
        "Held", "rail", "pond", "Ines", "Sam", str(course), str(group), str(row.exercise),
        str(row.first_frame), "noor",
    ):  # fmt: skip
        assert private not in whole, private
    assert said.attachments == []
    assert not said.message().is_multipart()


def test_a_week_that_opens_is_told_to_the_group(clock, work, sam_hears, noor, ines, group, week):
    week.number = 2
    week.save()
    address = reverse("course:edit-group", args=[group.pk])
    client = Client()
    client.force_login(ines)
    data = {"course": group.course_id, "name": group.name, "week_now": 2}
    assert client.post(address, data).status_code == 302
    clock(EVENING)
    work()
    (said,) = mail.outbox
    assert "A new week of your course is open." in said.body
    assert "answered" not in said.body
    assert said.subject.startswith("There is news of your course")  # nothing came back


def test_a_week_that_is_hidden_is_no_news(clock, work, sam_hears, group, week):
    week.number, week.hidden = group.week_now, True
    week.save()
    group.week_has_opened()
    clock(EVENING)
    work()
    assert mail.outbox == []


def test_a_crit_taken_back_before_the_hour_is_no_news(answered, clock, work, ines):
    answered().crit_by(ines).take_back()
    clock(EVENING)
    work()
    assert mail.outbox == []


@pytest.mark.parametrize("so", [{"mail": False}, {"mail_to": ""}], ids=["no mails", "no address"])
def test_nobody_gets_what_they_did_not_ask_for(answered, clock, work, sam, so):
    answered()
    Person.objects.filter(user=sam).update(**so)
    clock(EVENING)
    work()
    assert mail.outbox == []


def test_without_a_mail_server_nothing_is_planned(settings, answered):
    settings.MAIL_IS_ON = False
    answered()
    assert not Digest.objects.exists()
    assert not Job.objects.filter(task__contains="digest").exists()


# --- killed, slow, and twice at once ---


class Killed(BaseException):
    """What a kill looks like from inside: no handler of ours catches it."""


@pytest.fixture
def due(answered, clock):
    answered()
    clock(EVENING)
    return Digest.objects.get()


def test_killed_before_the_mail_went_out_it_is_sent_by_the_next_worker(
    due, monkeypatch, clock, work
):
    monkeypatch.setattr(digests, "words_of", _raise(Killed))
    with pytest.raises(Killed):
        digests.send_digest.func(due.pk)
    monkeypatch.undo()
    clock(EVENING)
    work()
    assert len(mail.outbox) == 1


def test_killed_while_sending_it_is_never_sent_again(due, monkeypatch, clock):
    """The server may have it, and may not: what is not known is not done twice."""
    monkeypatch.setattr(mail.EmailMessage, "send", _raise(Killed))
    with pytest.raises(Killed):
        digests.send_digest.func(due.pk)
    monkeypatch.undo()
    clock(EVENING)
    assert digests.send_digest.func(due.pk) == "begun before"
    assert digests.send_digest.func(due.pk) == "begun before"
    assert mail.outbox == []


def test_what_a_killed_mail_would_have_told_is_told_the_next_day(due, answered, clock, work):
    due.begin()  # and then killed
    clock(EVENING + timedelta(hours=1))
    answered()
    clock(EVENING + timedelta(days=1))
    work()
    (said,) = mail.outbox
    assert "2 of your hand-ins were answered" in said.body


def test_two_workers_with_one_mail_send_it_once(due, monkeypatch):
    first = digests.words_of

    def while_another_sends(*args):
        monkeypatch.setattr(digests, "words_of", first)
        assert digests.send_digest.func(due.pk) == "sent"
        return first(*args)

    monkeypatch.setattr(digests, "words_of", while_another_sends)
    digests.send_digest.func(due.pk)
    assert len(mail.outbox) == 1


def test_a_mail_server_that_does_not_answer_is_asked_again_the_same_day(settings, due, clock, work):
    with serving_nothing() as port:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
        work()
    due.refresh_from_db()
    assert due.begun_at is None
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    clock(EVENING + timedelta(minutes=16))
    work()
    assert len(mail.outbox) == 1


def test_when_no_worker_ran_that_day_it_moves_to_the_next(due, clock, work):
    clock(EVENING + timedelta(hours=14))  # the next morning
    work()
    assert mail.outbox == []
    clock(EVENING + timedelta(days=1))
    work()
    assert len(mail.outbox) == 1


def _raise(what):
    def fall(*_, **__):
        raise what

    return fall


class serving_nothing:  # noqa: N801 - reads as a sentence
    """A port nobody answers on."""

    def __enter__(self):
        import socket

        with socket.socket() as door:
            door.bind(("127.0.0.1", 0))
            return door.getsockname()[1]

    def __exit__(self, *_):
        pass


# --- the end of them, and the beginning ---


@pytest.fixture
def sent(answered, clock, work):
    answered()
    clock(EVENING)
    work()
    return mail.outbox[0]


def test_its_headers_are_those_of_rfc_8058(sent):
    """RFC 8058, section 3: an HTTPS address, and the one permitted value beside it."""
    headers = sent.extra_headers
    assert re.fullmatch(
        r"<https://course\.example\.org/mail/stop/[^>]+>", headers["List-Unsubscribe"]
    )
    assert headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert headers["Auto-Submitted"] == "auto-generated"  # RFC 3834, section 5
    assert headers["List-Unsubscribe"].strip("<>") in sent.body


def test_a_house_without_https_promises_no_one_click(settings, answered, clock, work):
    """RFC 8058, section 3.1: the address of one click is an HTTPS one; the link itself works."""
    settings.PUBLIC_URL = "http://course.lan"
    answered()
    clock(EVENING)
    work()
    headers = mail.outbox[0].extra_headers
    assert headers["List-Unsubscribe"].startswith("<http://course.lan/mail/stop/")
    assert "List-Unsubscribe-Post" not in headers


def test_one_click_of_a_mail_program_ends_them_without_signing_in(sent, sam):
    """RFC 8058, section 3.2: no cookie, no form of ours, one value in the body."""
    path = (
        sent.extra_headers["List-Unsubscribe"]
        .strip("<>")
        .removeprefix("https://course.example.org")
    )
    program = Client(enforce_csrf_checks=True)
    assert program.get(path).status_code == 200
    assert Person.objects.get(user=sam).mail  # a scanner that opened it ended nothing
    answer = program.post(path, {"List-Unsubscribe": "One-Click"})
    assert answer.status_code == 200
    assert not Person.objects.get(user=sam).mail
    assert "None will come" in program.get(path).text


def test_a_link_that_was_tampered_with_opens_nothing(sent, sam):
    path = sent.extra_headers["List-Unsubscribe"].strip("<>")[26:-4] + "abc/"
    assert Client().post(path).status_code == 404
    assert Person.objects.get(user=sam).mail


def test_an_address_is_written_to_only_once_its_owner_said_yes(as_person, sam, work):
    client = as_person(sam)
    data = {"display_name": "Sam", "tone": "gentle", "paper": "day", "mail": "on"}
    client.post(reverse("course:me"), data | {"address": "sam@example.org"})
    work()
    assert Person.objects.get(user=sam).mail_to == ""
    (asks,) = mail.outbox
    assert "Sam" not in asks.body
    link = re.search(r"https://course\.example\.org(/mail/yes/\S+)", asks.body)[1]
    anyone = Client()
    anyone.get(link)
    assert Person.objects.get(user=sam).mail_to == ""
    anyone.post(link)
    assert Person.objects.get(user=sam).mail_to == "sam@example.org"
    page = client.post(reverse("course:me"), data | {"address": "other@example.org"})
    assert "on its way already" in page.text  # nobody is flooded by trying addresses
    client.post(reverse("course:me"), data | {"address": ""})
    assert Person.objects.get(user=sam).mail_to == ""


def test_a_house_without_mail_asks_for_no_address(settings, as_person, sam):
    settings.MAIL_IS_ON = False
    page = as_person(sam).get(reverse("course:me")).text
    assert "e-mail" not in page


def test_groups_are_told_in_queries_that_do_not_depend_on_who_wants_none(
    clock, group, django_assert_num_queries
):
    assert Group.objects.filter(pk=group.pk).exists()
    with django_assert_num_queries(2 + 2):  # the row, its people; and the savepoint's two
        group.week_has_opened()

"""The door: growing waits nobody can turn against another, second codes, sessions, audit."""

import base64
import io
import re
import time
from datetime import timedelta
from types import SimpleNamespace
from urllib.parse import parse_qs, urlsplit

import pyotp
import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from course.first_key import first_key
from course.models import AuditLine, OpenSession, ResetLink, SecondFactor, Try
from course.models.throttle import FREE, LONGEST_WAIT_S

pytestmark = pytest.mark.django_db
ELSEWHERE = "198.51.100.7"  # RFC 5737: addresses for documentation


def try_to_sign_in(client, name, password, address="192.0.2.1"):
    return client.post("/sign-in/", {"username": name, "password": password}, REMOTE_ADDR=address)


def fail(client, name, times, address="192.0.2.1"):
    return [try_to_sign_in(client, name, "wrong", address).status_code for _ in range(times)]


# --- waits ---


@pytest.fixture
def still_clock(monkeypatch):
    """On a crowded machine a password takes so long to hash that a wait of a second is over."""
    now = timezone.now()
    monkeypatch.setattr("course.models.throttle.timezone", SimpleNamespace(now=lambda: now))


@pytest.mark.usefixtures("still_clock")
def test_guessing_from_one_place_gets_slow_and_the_right_password_waits_too(client, sam):
    assert set(fail(client, "sam", FREE["here"])) == {200}
    page = try_to_sign_in(client, "sam", "sam")
    assert page.status_code == 429
    assert 0 < int(page["Retry-After"]) <= 2
    assert "Wait 1 seconds" in page.content.decode() or "Wait 2 seconds" in page.content.decode()


def test_the_wait_doubles_and_ends(sam):
    row = Try(kind="here", failed=FREE["here"] + 4, last_at=timezone.now())
    assert row.wait_s(row.last_at) == 16
    assert row.wait_s(row.last_at + timedelta(seconds=15.5)) == 1
    assert row.wait_s(row.last_at + timedelta(seconds=16)) == 0
    row.failed = 10_000
    assert row.wait_s(row.last_at) == LONGEST_WAIT_S["here"]


def test_after_the_wait_the_right_password_opens_and_the_count_is_forgotten(client, sam):
    fail(client, "sam", FREE["here"] + 1)
    Try.objects.update(last_at=timezone.now() - timedelta(minutes=20))
    assert try_to_sign_in(client, "sam", "sam").status_code == 302
    client.logout()
    assert set(fail(client, "sam", FREE["here"])) == {200}


@pytest.mark.usefixtures("still_clock")
def test_nobody_locks_another_out(client, sam):
    """Somebody elsewhere hammers at Sam's name; Sam, who was here before, comes in at once."""
    assert try_to_sign_in(client, "sam", "sam").status_code == 302
    client.logout()
    for k in range(FREE["account"] + 20):
        try_to_sign_in(client, "sam", "guess", f"198.51.100.{k + 1}")
    assert try_to_sign_in(client, "sam", "sam", ELSEWHERE).status_code == 429
    assert try_to_sign_in(client, "sam", "sam").status_code == 302


@pytest.mark.usefixtures("still_clock")
def test_one_address_cannot_walk_through_all_names(client, db):
    said = [fail(client, f"name-{k}", 1, ELSEWHERE)[0] for k in range(FREE["address"] + 5)]
    assert said[: FREE["address"]] == [200] * FREE["address"]
    assert said[-1] == 429
    assert fail(client, "name-1", 1) == [200]  # from elsewhere nothing has happened


def test_counters_hold_no_name_and_no_address(client, sam):
    fail(client, "sam", 1, ELSEWHERE)
    kept = " ".join(f"{row.key} {row.kind}" for row in Try.objects.all())
    assert "sam" not in kept
    assert ELSEWHERE not in kept


def test_a_name_nobody_has_reads_the_same_as_a_wrong_password(client, sam):
    one = try_to_sign_in(client, "sam", "x").content
    other = try_to_sign_in(client, "nobody", "x").content
    token = re.compile(rb'name="csrfmiddlewaretoken" value="\w+"')
    assert token.sub(b"", one) == token.sub(b"", other).replace(b"nobody", b"sam")


# --- second code ---


@pytest.fixture
def with_code(ines):
    factor = SecondFactor.objects.create(user=ines)
    codes = factor.confirm()
    return factor, codes


def code_now(factor, steps=0):
    return pyotp.TOTP(factor.secret).at(int(time.time()) + 30 * steps)


@pytest.mark.parametrize(
    ("at", "printed"), [(59, "94287082"), (1111111109, "07081804"), (2000000000, "69279037")]
)
def test_codes_are_those_of_rfc_6238(ines, monkeypatch, at, printed):
    """RFC 6238, appendix B, SHA-1 rows: the last six of the eight digits printed there."""
    secret = base64.b32encode(b"12345678901234567890").decode()
    factor = SecondFactor.objects.create(user=ines, secret=secret)
    monkeypatch.setattr("course.models.second_factor.time.time", lambda: at)
    assert factor.takes(printed[2:])
    assert not factor.takes(f"{(int(printed[2:]) + 1) % 10**6:06d}")


def test_the_password_alone_does_not_open(client, with_code):
    assert try_to_sign_in(client, "ines", "ines").url == "/sign-in/code/"
    assert client.get("/me/").status_code == 302
    assert "_auth_user_id" not in client.session
    page = client.post("/sign-in/code/", {"code": "000000"})
    assert "does not fit" in page.content.decode()
    client.post("/sign-in/code/", {"code": code_now(with_code[0])})
    assert client.get("/me/").status_code == 200


def test_a_code_opens_once(client, with_code):
    factor, _ = with_code
    code = code_now(factor)
    assert factor.takes(code)
    assert not factor.takes(code)


def test_a_recovery_code_opens_once_and_is_kept_as_a_hash(client, with_code):
    factor, codes = with_code
    assert len(set(codes)) == 8
    kept = list(factor.recovery_codes.values_list("code_hash", flat=True))
    assert not any(code.replace("-", "") in kept for code in codes)
    assert factor.takes(codes[0].upper().replace("-", " "))
    assert not factor.takes(codes[0])


def test_a_reset_leaves_the_second_code_on(client, with_code, ines):
    _, token = ResetLink.objects.make(lasts=timedelta(days=1), user=ines)
    client.post(f"/reset/{token}/", {"password": "a beetle on a stem"})
    assert try_to_sign_in(client, "ines", "a beetle on a stem").url == "/sign-in/code/"


def test_guessing_codes_gets_slow(client, with_code):
    try_to_sign_in(client, "ines", "ines")
    said = [client.post("/sign-in/code/", {"code": f"{k:06d}"}).status_code for k in range(8)]
    assert said[-1] == 429


def test_without_the_password_there_is_no_second_half(client, with_code):
    assert client.get("/sign-in/code/").url == "/sign-in/"
    session = client.session
    session["password_proved"] = [with_code[0].user_id, time.time() - 301, ""]
    session.save()
    assert client.post("/sign-in/code/", {"code": code_now(with_code[0])}).url == "/sign-in/"


def test_switching_it_on_takes_password_and_a_first_code(as_person, ines):
    client = as_person(ines)
    page = client.get("/me/account/code/").content.decode()
    factor = SecondFactor.objects.get(user=ines)
    assert factor.secret in page
    assert "<svg" in page
    right = {"old_password": "ines", "code": code_now(factor)}
    client.post("/me/account/code/", right | {"old_password": "no"})
    assert SecondFactor.objects.of(ines) is None
    page = client.post("/me/account/code/", right).content.decode()
    assert len(re.findall(r"(?:\w{4}-){6}\w{4}", page)) == 8
    assert SecondFactor.objects.of(ines)
    client.post("/me/account/code/off/", {"old_password": "ines"})
    assert SecondFactor.objects.of(ines) is None


def test_a_secret_seen_before_is_not_the_one_that_is_switched_on(as_person, ines):
    client = as_person(ines)
    client.get("/me/account/code/")
    seen = SecondFactor.objects.get(user=ines).secret
    client.get("/me/account/code/")
    assert SecondFactor.objects.get(user=ines).secret != seen


def test_the_house_may_ask_for_it_of_all_who_teach(as_person, ines, sam, settings):
    settings.SECOND_FACTOR_FOR_TEACHING = True
    assert as_person(ines).get("/groups/").url == "/me/account/code/"
    assert as_person(sam).get("/this-week/").status_code == 200


def test_the_owner_of_the_house_helps_who_lost_a_phone(with_code, ines, capsys):
    call_command("account", "ines", "--no-second-code", "--sign-out")
    assert SecondFactor.objects.of(ines) is None


# --- sessions and passwords ---


def test_one_sees_where_one_is_signed_in_and_ends_it(client, sam):
    other = type(client)()
    for each, agent in ((client, "X11; Linux"), (other, "Android 14")):
        each.post(
            "/sign-in/", {"username": "sam", "password": "sam"}, headers={"User-Agent": agent}
        )
    page = client.get("/me/account/").content.decode()
    assert "Linux computer" in page
    assert "Android phone" in page
    there = OpenSession.objects.get(device__startswith="Android")
    client.post(f"/me/account/sign-out/{there.pk}/")
    assert other.get("/me/").status_code == 302
    assert client.get("/me/").status_code == 200


def test_a_session_of_somebody_else_is_not_mine_to_end(as_person, sam, noor):
    as_person(noor)
    hers = OpenSession.objects.get(user=noor)
    assert as_person(sam).post(f"/me/account/sign-out/{hers.pk}/").status_code == 404


def test_a_new_password_takes_the_old_one_and_signs_out_elsewhere(as_person, sam):
    here, there = as_person(sam), as_person(sam)
    new = {"old_password": "no", "password": "moss on the north wall"}
    assert "not your password now" in here.post("/me/account/password/", new).content.decode()
    here.post("/me/account/password/", new | {"old_password": "sam"})
    assert here.get("/me/").status_code == 200
    assert there.get("/me/").status_code == 302


def test_who_teaches_is_not_opened_by_a_reset_link(as_person, ines, greta, group):
    group.enrolments.create(user=greta)  # she takes a course here as well
    place = group.enrolments.get(user=greta)
    page = as_person(ines).post(f"/groups/{group.pk}/reset/{place.pk}/", follow=True)
    assert "No link was made" in page.content.decode()
    assert not ResetLink.objects.exists()


# --- audit ---


def test_what_matters_leaves_a_line_without_personal_data(client, sam):
    try_to_sign_in(client, "sam", "wrong", ELSEWHERE)
    try_to_sign_in(client, "sam", "sam")
    lines = AuditLine.objects.concerning(sam)
    assert [line.what for line in lines] == ["signed in", "sign-in refused"]
    columns = {field.name for field in AuditLine._meta.fields}
    assert columns == {"id", "at", "what", "by", "about"}
    with pytest.raises(ValueError, match="nothing the audit knows"):
        AuditLine.objects.note("sang")


# --- the first account ---

NEW = {"display_name": "Noor", "username": "noor", "password": "moss on the north wall"}


@pytest.mark.parametrize(
    "visitor",
    [{"REMOTE_ADDR": ELSEWHERE}, {"HTTP_X_FORWARDED_FOR": ELSEWHERE}, {"HTTP_FORWARDED": "for=x"}],
)
def test_a_stranger_does_not_move_into_an_empty_house(client, db, visitor):
    page = client.get("/first/", **visitor)
    assert page.status_code == 403
    assert "manage.py serve" in page.content.decode()
    assert client.post("/first/", NEW | {"key": "guess"}, **visitor).status_code == 403
    assert "Make my account" in client.get(f"/first/?key={first_key()}", **visitor).content.decode()
    assert client.post("/first/", NEW | {"key": first_key()}, **visitor).status_code == 302


def test_a_public_address_always_asks_for_the_key(client, db, settings):
    settings.PUBLIC_URL = "https://course.example.org"
    assert client.get("/first/").status_code == 403


@pytest.mark.parametrize(
    ("host", "public", "asks"),
    [
        ("127.0.0.1", "", False),
        ("localhost", "", False),
        ("0.0.0.0", "", True),
        ("127.0.0.1", "https://course.example.org", True),
    ],
)
def test_serve_prints_the_key_where_others_can_reach_the_house(db, settings, host, public, asks):
    from config.management.commands.serve import Command

    settings.PUBLIC_URL = public
    said = io.StringIO()
    Command(stdout=said).welcome(host, 8501)
    assert (f"first/?key={first_key()}" in said.getvalue()) == asks


@pytest.mark.parametrize(
    ("page", "comes_back_to"),
    [
        ("http://testserver/to-look-at/7/?frame=2", "/to-look-at/7/?frame=2"),
        ("https://elsewhere.example.org/to-look-at/7/", "/phrases/7/forget/"),
        ("", "/phrases/7/forget/"),
    ],
)
def test_a_button_pressed_while_signed_out_leads_back_to_its_page(db, page, comes_back_to):
    """And never to a page of another house."""
    pressed = reverse("course:forget-phrase", args=[7])
    answer = Client().post(pressed, headers={"Referer": page} if page else {})
    told = parse_qs(urlsplit(answer.url).query)
    assert told == {"next": [pressed if comes_back_to.startswith("/phrases") else comes_back_to]}


def test_what_a_script_sends_while_signed_out_says_nothing_to_the_person(db):
    headers = {"Referer": "http://testserver/to-look-at/7/", "X-Requested-With": "fetch"}
    client = Client()
    answer = client.post(reverse("course:words", args=[7]), headers=headers)
    assert "was not done" not in client.get(answer.url).text

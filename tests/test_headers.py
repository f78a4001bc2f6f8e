"""What every answer says about itself, and what the house does for those who sign in and out."""

import os
import subprocess
import sys
from datetime import timedelta

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client
from django.utils import timezone

from tests.house import BASE

pytestmark = pytest.mark.django_db


def directives(answer):
    parts = (part.split() for part in answer["Content-Security-Policy"].split(";"))
    return {name: sources for name, *sources in parts}


@pytest.mark.parametrize(
    "path", ["/sign-in/", "/me/", "/health/", "/nothing-here/", "/api/frames/"]
)
def test_every_answer_says_where_things_may_come_from(as_person, sam, path):
    answer = as_person(sam).get(path)
    told = directives(answer)
    assert told["default-src"] == told["object-src"] == told["base-uri"] == ["'none'"]
    assert told["frame-ancestors"] == ["'none'"]
    assert told["script-src"] == told["style-src"] == told["form-action"] == ["'self'"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "Access-Control-Allow-Origin" not in answer
    assert "Server" not in answer
    if answer.get("Content-Type", "").startswith("text/html"):
        assert "charset=utf-8" in answer["Content-Type"]
        assert "no-" in answer["Cache-Control"]


def in_a_house(code, tmp_path, **environment):
    """Run a line in a house with a public address, far from the tests' own settings."""
    env = {k: v for k, v in os.environ.items() if not k.startswith(("WD_", "PYTEST"))}
    env |= {"WD_DATA": str(tmp_path / "data"), "WD_ENTERED": "1", "WD_VENV": "none"}
    env |= {"WD_PUBLIC_URL": "https://course.example.org"} | environment
    return subprocess.run(
        [sys.executable, *code], cwd=BASE, env=env, capture_output=True, text=True, check=False
    )


def test_check_deploy_is_clean(tmp_path):
    line = ["manage.py", "check", "--deploy", "--fail-level", "WARNING"]
    done = in_a_house(line, tmp_path)
    complaints = [each for each in done.stderr.splitlines() if "config.W001" not in each]
    if done.returncode:  # a nearly full disk is the machine's, not the settings'
        assert not [each for each in complaints if "security." in each or "config.E" in each]
    else:
        assert "no issues" in done.stdout


def test_cookies_of_a_public_house_are_its_own(tmp_path):
    code = (
        "import os; os.environ['DJANGO_SETTINGS_MODULE'] = 'config.settings'\n"
        "from django.conf import settings as s\n"
        "print(s.SESSION_COOKIE_NAME, s.CSRF_COOKIE_NAME, s.SESSION_COOKIE_SECURE,"
        " s.CSRF_COOKIE_SECURE, s.SESSION_COOKIE_HTTPONLY, s.SESSION_COOKIE_SAMESITE,"
        " s.CSRF_COOKIE_SAMESITE, s.SESSION_COOKIE_PATH, s.SESSION_COOKIE_DOMAIN,"
        " s.SECURE_HSTS_SECONDS >= 31536000, s.SECURE_HSTS_INCLUDE_SUBDOMAINS, s.DEBUG)"
    )
    done = in_a_house(["-c", code], tmp_path)
    assert done.stdout.split() == [
        "__Host-sessionid", "__Host-csrftoken", "True", "True", "True", "Lax", "Lax", "/", "None",
        "True", "True", "False",
    ]  # fmt: skip


def test_security_rules_of_the_linter_are_clean():
    """All of them but three: asserts narrow types; every command line here is a list of ours."""
    rules = ["--select", "S", "--ignore", "S101,S603,S607"]
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", *rules, "config", "course", "shootlog", "optics"],
        cwd=BASE,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


def test_a_form_from_elsewhere_does_nothing_and_says_so(sam, make_frame):
    frame = make_frame(sam)
    client = Client(enforce_csrf_checks=True)
    client.force_login(sam)
    answer = client.post(f"/me/things/frame/{frame.pk}/")
    assert answer.status_code == 403
    assert "nothing was done" in answer.content.decode()
    frame.refresh_from_db()


@pytest.mark.parametrize("method", ["TRACE", "PUT", "DELETE", "PATCH"])
def test_ways_of_asking_that_nobody_needs_are_refused(client, sam, method):
    for path in ("/", "/sign-in/code/", "/first/"):
        assert client.generic(method, path).status_code in (404, 405)


def test_the_address_of_a_button_opens_a_page_of_ours_with_a_way_back(client, sam, make_frame):
    frame = make_frame(sam)
    client.force_login(sam)
    for path in ("/sign-out/", f"/log/{frame.pk}/mark/", f"/log/{frame.pk}/tell/"):
        answer = client.get(path)
        assert answer.status_code == 405
        assert answer["Allow"] == "POST"
        assert "Nothing was done." in answer.text
        assert '<a href="/">Back to the start</a>' in answer.text
        assert 'class="strap"' in answer.text
    asked = client.put(f"/log/{frame.pk}/mark/")  # no browser asks like that
    assert (asked.status_code, asked.content) == (405, b"")
    assert client.get("/api/tokens/").headers["Content-Type"] != "text/html; charset=utf-8"


def test_a_fault_of_ours_says_sorry_and_nothing_of_the_inside(client, sam, monkeypatch):
    def fault(*args):
        raise RuntimeError("inside-secret-7")

    monkeypatch.setattr("course.views.sign_in.Try.objects.begin", fault)
    client.raise_request_exception = False
    answer = client.post("/sign-in/", {"username": "sam", "password": "sam"})
    assert answer.status_code == 500
    assert "Sorry" in answer.content.decode()
    assert "inside-secret-7" not in answer.content.decode()
    assert "Traceback" not in answer.content.decode()
    assert "_auth_user_id" not in client.session  # a fault opens no door


def test_signing_out_ends_the_session_and_empties_the_browsers_cache(as_person, sam):
    client = as_person(sam)
    cookie = client.cookies["sessionid"].value
    answer = client.post("/sign-out/")
    assert answer["Clear-Site-Data"] == '"cache"'
    client.cookies["sessionid"] = cookie
    assert client.get("/me/").status_code == 302


def test_a_session_ends_when_it_is_old_however_much_it_is_used(as_person, sam, settings):
    client = as_person(sam)
    session = client.session
    session["begun_at"] -= settings.LONGEST_SESSION_S + 1
    session.save()
    assert client.get("/me/").status_code == 302
    assert "_auth_user_id" not in client.session


def test_a_session_nobody_used_ends(as_person, sam, settings):
    from django.contrib.sessions.models import Session

    client = as_person(sam)
    left = Session.objects.get(pk=client.session.session_key).expire_date - timezone.now()
    assert timedelta(days=13) < left <= timedelta(days=14)


@pytest.mark.parametrize(
    ("password", "said"),
    [
        ("short", "too short"),
        ("password123", "too common"),
        ("Macro2026!!", "Everybody in this trade"),
        ("working-distance", "Everybody in this trade"),
        ("CloseUpPhotography1", "Everybody in this trade"),
    ],
)
def test_a_password_others_would_try_is_refused_in_words(password, said):
    with pytest.raises(ValidationError, match=said):
        validate_password(password)


@pytest.mark.parametrize("password", ["a beetle on a stem", "ürgendwös bläues", "x" * 70 + " y"])
def test_any_letters_and_any_length_make_a_password(password):
    validate_password(password)


def test_a_sign_in_leads_to_no_other_site(client, sam):
    page = "/sign-in/?next=https://elsewhere.example.net/"
    answer = client.post(
        page, {"username": "sam", "password": "sam", "next": "https://elsewhere.example.net/"}
    )
    assert answer.url == "/"


def test_a_header_of_the_visitor_does_not_change_their_address(client, sam):
    """Only the trusted proxy's word counts, and that is the server's to take (`web`)."""
    for k in range(6):
        client.post(
            "/sign-in/",
            {"username": "sam", "password": "guess"},
            headers={"X-Forwarded-For": f"198.51.100.{k}"},
        )
    answer = client.post(
        "/sign-in/",
        {"username": "sam", "password": "sam"},
        headers={"X-Forwarded-For": "198.51.100.99"},
    )
    assert answer.status_code == 429

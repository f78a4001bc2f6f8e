"""A token lets a program act as one person; only its hash is kept."""

import io

import pytest
from django.core.management import CommandError, call_command
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.test import APIRequestFactory

from shootlog.api_access import TokenAccess
from shootlog.models import ApiToken

pytestmark = pytest.mark.django_db


def made_for(name):
    out = io.StringIO()
    call_command("token", name, stdout=out)
    return out.getvalue().strip()


def asked_with(key):
    request = APIRequestFactory().get("/", HTTP_AUTHORIZATION=f"Token {key}")
    return TokenAccess().authenticate(request)


def test_a_token_opens_the_house_for_its_person(sam):
    key = made_for("sam")
    assert asked_with(key)[0] == sam
    assert key not in str(list(ApiToken.objects.values()))


def test_a_withdrawn_or_made_up_token_opens_nothing(sam):
    key = made_for("sam")
    call_command("token", "sam", "--withdraw", stderr=io.StringIO())
    for bad in (key, "made-up", "two words", "ü"):
        with pytest.raises(AuthenticationFailed):
            asked_with(bad)


def test_a_person_who_left_the_house_is_not_let_in(sam):
    key = made_for("sam")
    sam.is_active = False
    sam.save()
    with pytest.raises(AuthenticationFailed):
        asked_with(key)


def test_nobody_by_that_name_is_said(db):
    with pytest.raises(CommandError, match="nobody here signs in as 'eve'"):
        made_for("eve")

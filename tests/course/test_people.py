"""Joining, signing in, and links that open once."""

import re

import pytest
from django.contrib.auth.models import User
from django.utils import timezone

from course.models import Course, Enrolment, Group, Invitation, Person, ResetLink, Teaching
from course.models.invitation import INVITATION_LASTS, RESET_LASTS

pytestmark = pytest.mark.django_db
NEW = {"display_name": "Noor", "username": "noor", "password": "moss on the north wall"}


@pytest.fixture
def taught():
    """A course with a group, its instructor, and someone who belongs nowhere."""
    ines = User.objects.create_user("ines-t", password="x")
    Person.objects.create(user=ines, display_name="Ines", may_teach=True)
    course = Course.objects.create(title="Small things")
    Teaching.objects.create(course=course, user=ines, role="instructor")
    group = Group.objects.create(course=course, name="Thursday")
    return ines, course, group


def test_an_empty_house_leads_to_the_first_account_and_then_never_again(client):
    assert client.get("/").url == "/first/"
    assert client.get("/first/").status_code == 200
    client.post("/first/", NEW)
    assert Person.objects.get(user__username="noor").may_teach
    client.logout()
    assert client.get("/first/").status_code == 404
    assert client.post("/first/", NEW | {"username": "eve"}).status_code == 404


def test_a_short_password_is_sent_back_with_the_reason(client):
    page = client.post("/first/", NEW | {"password": "short"})
    assert "at least 10 characters" in page.content.decode()
    assert not User.objects.exists()


def test_an_invitation_lets_one_person_in_once(client, taught):
    ines, course, group = taught
    client.force_login(ines)
    client.post(f"/groups/{group.pk}/invite/", {"role": "student", "for_name": "Noor"})
    page = client.get(f"/groups/{group.pk}/").content.decode()
    link = re.search(r"/join/[\w-]+/", page)[0]
    assert link not in client.get(f"/groups/{group.pk}/").content.decode()  # shown once
    client.logout()
    assert client.post(link, NEW).status_code == 302
    assert Enrolment.objects.get(group=group).user.username == "noor"
    client.logout()
    assert client.get(link).status_code == 404


@pytest.mark.parametrize("how", ["withdrawn", "expired"])
def test_a_withdrawn_or_expired_invitation_opens_nothing(client, taught, how):
    ines, course, group = taught
    row, token = Invitation.objects.make(
        lasts=INVITATION_LASTS, role="student", course=course, group=group
    )
    if how == "withdrawn":
        client.force_login(ines)
        client.post(f"/groups/{group.pk}/withdraw/{row.pk}/")
        client.logout()
    else:
        Invitation.objects.update(expires_at=timezone.now())
    assert client.get(f"/join/{token}/").status_code == 404


def test_a_reset_link_sets_a_new_password_once(client, taught):
    ines, _, group = taught
    _, token = ResetLink.objects.make(lasts=RESET_LASTS, user=ines)
    client.post(f"/reset/{token}/", {"password": "a beetle on a stem"})
    ines.refresh_from_db()
    assert ines.check_password("a beetle on a stem")
    assert client.get(f"/reset/{token}/").status_code == 404


def test_what_is_another_instructors_is_not_there(client, taught):
    _, course, group = taught
    other = User.objects.create_user("other", password="x")
    client.force_login(other)
    for page in (f"/groups/{group.pk}/", f"/course/{course.pk}/", f"/course/{course.pk}/change/"):
        assert client.get(page).status_code == 404
    assert client.post(f"/groups/{group.pk}/invite/", {"role": "student"}).status_code == 404

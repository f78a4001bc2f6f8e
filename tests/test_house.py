"""The site answers, with the headers every answer carries, and the cast is who it says."""

import pytest

from course.models import Group


def test_the_house_answers(client, db):
    answer = client.get("/health/")
    assert answer.status_code == 200
    assert answer.content == b"ok\n"


def test_every_answer_forbids_scripts_and_styles_from_elsewhere(client, db):
    for path in ["/health/", "/no-such-page/"]:
        policy = client.get(path).headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "unsafe" not in policy
        assert client.get(path).headers["X-Frame-Options"] == "DENY"
        assert client.get(path).headers["X-Content-Type-Options"] == "nosniff"


def test_the_cast_is_who_it_says(ines, arno, sam, noor, otto, greta, group):
    assert list(Group.objects.visible_to(greta)) == []
    assert list(Group.objects.visible_to(otto)) == []
    for person in [ines, arno, sam, noor]:
        assert list(Group.objects.visible_to(person)) == [group]
    assert list(Group.objects.led_by(arno)) == []
    assert list(Group.objects.led_by(ines)) == [group]


@pytest.mark.browser
def test_a_browser_opens_a_page(open_as, sam):
    assert "ok" in open_as(sam, "/health/").content()

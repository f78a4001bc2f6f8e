"""What goes amiss while somebody hands in: nothing is lost, and a clear word is said."""

import re

import pytest
from django.contrib.sessions.models import Session

from course.models import Enrolment, HandIn
from shootlog.models import Frame
from tests.frames import jpeg, make_frame
from tests.pages.acts import sign_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.slow
def test_pressing_twice_hands_in_once(troubled, sam, group, exercise):
    make_frame(sam, pictures=True)
    page = troubled(sam, f"/hand-in/{exercise.pk}/")
    page.locator("input[name=frames]").check()
    page.get_by_role("button", name="Hand in").dblclick(no_wait_after=True)
    page.wait_for_url(re.compile("/came-back/"))
    page.wait_for_load_state("networkidle")
    assert HandIn.objects.count() == 1


def test_the_session_ends_before_handing_in(troubled, sam, group, exercise):
    make_frame(sam, pictures=True)
    page = troubled(sam, f"/hand-in/{exercise.pk}/")
    page.locator("input[name=frames]").check()
    page.fill("[name=wanted]", "The edge against the light.")
    page.fill("[name=unsure]", "Is it close enough?")
    Session.objects.all().delete()
    page.get_by_role("button", name="Hand in").click()
    page.wait_for_url(re.compile("/sign-in/"))
    sign_in(page, "sam")
    page.wait_for_url(re.compile("/hand-in/"))
    assert page.locator("[name=wanted]").input_value() == "The edge against the light."
    assert page.locator("input[name=frames]").is_checked()
    page.get_by_role("button", name="Hand in").click()
    page.wait_for_url(re.compile("/came-back/"))
    assert HandIn.objects.get().unsure == "Is it close enough?"
    page.goto(page.url.replace(f"came-back/{HandIn.objects.get().pk}", f"hand-in/{exercise.pk}"))
    assert page.locator("[name=wanted]").input_value() == ""  # what was handed in is not offered


@pytest.mark.parametrize("scripts", [pytest.param(True, marks=pytest.mark.slow), False])
def test_taken_out_of_the_group_while_handing_in(own_browser, sam, group, exercise, scripts):
    """The frame lands in the log, with a word why it was not handed in."""
    page = own_browser(java_script_enabled=scripts)(sam, f"/hand-in/{exercise.pk}/")
    Enrolment.objects.get(user=sam).leave()
    file = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": jpeg()}
    page.set_input_files("input[type=file]", [file])
    if scripts:
        page.locator("#sheet input[name=frames]:checked").wait_for()
    page.get_by_role("button", name="Hand in").click()
    page.wait_for_url(re.compile("/log/"))
    assert "not in the group of this exercise any more" in page.locator(".said").inner_text()
    assert Frame.objects.get().sent_name == "a.jpg"
    assert not HandIn.objects.exists()


@pytest.mark.slow
def test_going_back_to_say_it_better_hands_in_once_with_the_new_words(
    troubled, sam, group, exercise
):
    make_frame(sam, pictures=True)
    page = troubled(sam, f"/hand-in/{exercise.pk}/")
    page.locator("input[name=frames]").check()
    page.fill("[name=wanted]", "The edge.")
    page.get_by_role("button", name="Hand in").click()
    page.wait_for_url(re.compile("/came-back/"))
    page.go_back()
    page.wait_for_load_state("networkidle")
    page.locator("input[name=frames]").check()
    page.fill("[name=wanted]", "The edge against the light.")
    page.get_by_role("button", name="Hand in").click()
    page.wait_for_url(re.compile("/came-back/"))
    assert "The edge against the light." in page.locator("main").inner_text()
    assert HandIn.objects.get().wanted == "The edge against the light."


@pytest.mark.slow
def test_two_tabs_hand_the_same_frame_in_once(troubled, sam, group, exercise):
    make_frame(sam, pictures=True)
    tabs = [troubled(sam, f"/hand-in/{exercise.pk}/") for _ in range(2)]
    for page in tabs:
        page.locator("input[name=frames]").check()
        page.get_by_role("button", name="Hand in").click()
        page.wait_for_url(re.compile("/came-back/"))
    assert tabs[0].url == tabs[1].url
    assert HandIn.objects.count() == 1

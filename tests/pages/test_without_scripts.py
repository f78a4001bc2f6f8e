"""The instructor's and the student's acts with JavaScript switched off, past the first loop."""

import pytest

from course.models import Crit, HandIn
from tests.frames import PAST_DIFFRACTION, make_frame
from tests.pages.acts import follow, press

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def plain(own_browser):
    """Return a function that opens a path as someone in a browser that runs no scripts."""
    return own_browser(java_script_enabled=False, viewport={"width": 390, "height": 780})


def test_not_so_a_reshoot_the_pair_and_the_evening(plain, ines, sam, group, exercise):
    frames = [make_frame(sam, pictures=True, numbers=PAST_DIFFRACTION, flags=["diffraction"])]
    frames += [make_frame(sam, pictures=True) for _ in range(2)]
    first = HandIn.objects.hand_in(
        exercise=exercise, group=group, student=sam, frames=frames[:1], may_be_projected=True
    )

    page = plain(ines, f"/to-look-at/{first.pk}/")
    press(page, "Not so")
    press(page, "It was meant so")
    page.get_by_text("Set aside", exact=True).click()
    assert "Not so: it was meant so." in page.locator("main").inner_text()
    page.fill("[name=words]", "The band lies behind the eye.")
    page.fill("[name=one_thing]", "The eye first.")
    press(page, "Ask for a reshoot")
    assert not Crit.objects.get().is_released
    page = plain(ines, f"/to-look-at/{first.pk}/")
    press(page, "Release")
    assert Crit.objects.get().is_released

    page = plain(sam, f"/came-back/{first.pk}/")
    assert "The band lies behind the eye." in page.locator("main").inner_text()
    follow(page, "Hand in a reshoot")
    page.locator(f"input[name=frames][value='{frames[1].pk}']").check()
    page.check("[name=may_be_projected]")
    press(page, "Hand in")
    again = HandIn.objects.get(reshoot_of=first)
    follow(page, "See the pair")
    assert page.locator("img.picture").count() == 2
    assert "The eye first." in page.locator("main").inner_text()

    third = HandIn.objects.hand_in(
        exercise=exercise, group=group, student=sam, frames=frames[2:], may_be_projected=True
    )
    page = plain(ines, "/to-look-at/?nothing_said=on")
    for box in page.locator("input[name=hand_in]").all():
        box.check()
    press(page, "Talked through")
    states = HandIn.objects.filter(pk__in=[again.pk, third.pk]).values_list("state", flat=True)
    assert list(states) == ["talked through"] * 2

    page = plain(ines, f"/projection/{group.pk}/")
    assert page.get_by_text("Sam").is_hidden()
    follow(page, "Next")
    follow(page, "Next")
    assert page.get_by_text("3 of 3").is_visible()
    follow(page, "Leave")
    assert "3 hand-ins from 1 person" in page.locator("main").inner_text()

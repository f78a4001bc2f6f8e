"""The instructor's review with a finger alone, on a screen as wide as a phone."""

import re

import pytest
from playwright.sync_api import expect

from course.models import Crit, Exercise, HandIn, Week
from tests.frames import jpeg, make_frame

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def phone(own_browser):
    """Return a function that opens a path as someone on a phone."""
    return own_browser(has_touch=True, is_mobile=True, viewport={"width": 390, "height": 780})


def test_two_prints_are_marked_answered_and_released_by_touch(phone, ines, sam, group, course):
    week = Week.objects.create(course=course, number=1, title="Getting close")
    exercise = Exercise.objects.create(week=week, title="A small thing, close")
    recorded = {"width_px": 900, "height_px": 600, "origins": {}}
    rows = []
    for k in range(2):
        frame = make_frame(sam, data=jpeg(900, 600, 90 + k), recorded=recorded, pictures=True)
        rows.append(
            HandIn.objects.hand_in(
                exercise=exercise, group=group, student=sam, frames=[frame], wanted=f"wanted {k}"
            )
        )
    page = phone(ines, "/to-look-at/")
    page.get_by_role("link", name="Begin with the first").tap()
    # until then the page left behind counts as idle
    page.wait_for_url(re.compile(r"/to-look-at/\d+/$"))
    page.wait_for_load_state("networkidle")

    page.get_by_role("button", name="ring").tap()
    # a finger's click comes after the touch has ended, so the print's coming is waited for
    expect(page.locator("svg.marks")).to_be_in_viewport(ratio=1)
    box = page.locator("svg.marks").bounding_box()
    page.touchscreen.tap(box["x"] + 0.25 * box["width"], box["y"] + 0.5 * box["height"])
    page.locator("[data-mark-list] input").fill("this edge")
    page.fill("[name=words]", "Held.")
    page.get_by_label("Release it at once").tap()
    page.get_by_role("button", name="Keep", exact=True).tap()

    page.get_by_text("wanted 1").wait_for()
    assert page.get_by_label("Release it at once").is_checked()  # as with the one before
    page.fill("[name=one_thing]", "Nearer.")
    page.wait_for_timeout(500)  # nobody is quicker
    page.get_by_role("button", name="Ask for a reshoot").tap()
    page.wait_for_url(re.compile("/to-look-at/$"))
    page.get_by_text("The table is clear").wait_for()

    first, second = Crit.objects.order_by("hand_in")
    assert [row.state for row in HandIn.objects.order_by("pk")] == ["kept", "reshoot asked"]
    assert first.words == "Held."
    assert second.one_thing == "Nearer."
    assert first.is_released
    assert second.is_released
    (mark,) = first.marks
    x, y = map(float, re.findall(r'c[xy]="([\d.]+)%"', mark["target"]["selector"]["value"]))
    assert x == pytest.approx(25, abs=1)
    assert y == pytest.approx(50, abs=1)

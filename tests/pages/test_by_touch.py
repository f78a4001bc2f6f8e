"""The instructor's review with a finger alone, on a screen as wide as a phone."""

import re

import pytest
from playwright.sync_api import expect

from course.models import Crit, HandIn, Phrase
from tests.frames import jpeg, make_frame

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NEED_SCRIPTS = ("[data-tool=ring]", "[data-record]", ".phrases")
PLACES = """parts => parts.map((part) => {
    const box = part.getBoundingClientRect();
    return [box.x, box.y + scrollY, box.width, box.height];
})"""


@pytest.fixture
def phone(own_browser):
    """Return a function that opens a path as someone on a phone."""
    return own_browser(has_touch=True, is_mobile=True, viewport={"width": 390, "height": 780})


@pytest.fixture
def rows(sam, group, exercise):
    """Two prints on the table."""
    about = {"exercise": exercise, "group": group, "student": sam}
    recorded = {"width_px": 900, "height_px": 600, "origins": {}}
    return [
        HandIn.objects.hand_in(
            frames=[make_frame(sam, data=jpeg(900, 600, 90 + k), recorded=recorded, pictures=True)],
            wanted=f"wanted {k}",
            **about,
        )
        for k in range(2)
    ]


def test_what_needs_its_script_is_there_to_tap_once_that_has_begun(phone, ines, rows):
    """On a slow line a tap would be lost; its place is kept, and nothing moves when it comes.

    A field is there at once, and what was typed before the script had begun is kept, too.
    """
    Phrase.objects.create(author=ines, about="any", words="Turn the ring first.")
    page = phone(ines, "/to-look-at/")
    late = []
    page.route("**/marks*.js", lambda route: late.append(route))
    page.goto(f"{page.url}{rows[0].pk}/", wait_until="commit")
    needs = [page.locator(part) for part in NEED_SCRIPTS]
    all_of_them = page.locator(", ".join(NEED_SCRIPTS))
    page.locator("footer").wait_for()
    page.evaluate("document.fonts.ready")
    for part in needs:
        expect(part).to_be_hidden()
    places = all_of_them.evaluate_all(PLACES)
    expect(page.get_by_role("button", name="Keep", exact=True)).to_be_visible()
    page.fill("[name=words]", "Such light.")
    late[0].continue_()
    for part in needs:
        expect(part).to_be_visible()
    assert all_of_them.evaluate_all(PLACES) == places
    expect(page.locator("[data-kept]")).to_have_text(re.compile("^Kept"))
    assert Crit.objects.get().words == "Such light."
    needs[0].tap()
    expect(needs[0]).to_have_attribute("aria-pressed", "true")


def test_two_prints_are_marked_answered_and_released_by_touch(phone, ines, rows):
    page = phone(ines, "/to-look-at/")
    page.get_by_role("link", name="Begin with the first").tap()
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

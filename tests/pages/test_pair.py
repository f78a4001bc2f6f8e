"""The pair in the browser: side by side, wiped, moved and brought close together."""

import pytest
from playwright.sync_api import expect

from course.models import HandIn
from tests.shootlog.test_laid_over import frame_of, framed, scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def pair(sam, group, exercise):
    """The reshoot stands 5 % larger and lighter, made from the same scene."""
    whole = scene()
    larger = whole.resize((round(whole.width * 1.05), round(whole.height * 1.05)))
    lighter = larger.point(lambda value: min(255, value + 70))
    about = {"exercise": exercise, "group": group, "student": sam}
    first = HandIn.objects.hand_in(frames=[frame_of(sam, framed(whole))], **about)
    return HandIn.objects.hand_in(
        frames=[frame_of(sam, framed(lighter))], reshoot_of=first, **about
    )


BRIGHT = """() => {
    const canvas = document.querySelector(".stage");
    const of = (from, until) => {
        const pen = canvas.getContext("2d");
        const [x, w] = [from * canvas.width + 6, (until - from) * canvas.width - 12];
        const data = pen.getImageData(x, canvas.height * 0.3, w, canvas.height * 0.4).data;
        let sum = 0;
        for (let k = 0; k < data.length; k += 4) sum += data[k];
        return sum / (data.length / 4);
    };
    return [of(0, 0.24), of(0.26, 0.5), of(0.5, 1)];
}"""


def test_the_second_is_wiped_over_the_first_thing_on_thing(open_as, page, ines, pair):
    open_as(ines, f"/pair/{pair.pk}/")
    assert page.locator("[data-pair]").is_visible()
    page.get_by_role("button", name="Wiped").click()
    page.get_by_text("thing on thing").wait_for()
    assert "5 % larger" in page.locator("[role=status]").last.inner_text()
    left, middle, right = page.evaluate(BRIGHT)
    assert right - left > 40  # the lighter one lies right of the edge
    assert abs(left - middle) < 15
    page.locator(".stage").focus()
    for _ in range(13):  # the edge goes left, by keys
        page.keyboard.press("ArrowLeft")
    left, middle, right = page.evaluate(BRIGHT)
    assert middle - left > 40
    page.keyboard.press("z")  # its own pixels, both prints at one place
    assert page.get_by_role("button", name="True pixels").get_attribute("aria-pressed") == "true"
    expect(page.get_by_text("Their own pixels are still coming")).to_have_count(0)
    before = page.evaluate("document.querySelector('.stage').toDataURL()")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.querySelector('.stage').toDataURL()") != before
    page.keyboard.press("v")
    assert page.locator("[data-pair]").is_visible()
    assert page.locator(".stage").is_hidden()


def test_what_cannot_be_laid_over_says_so(open_as, page, ines, sam, group, exercise):
    about = {"exercise": exercise, "group": group, "student": sam}
    first = HandIn.objects.hand_in(frames=[frame_of(sam, framed(scene(1)))], **about)
    second = HandIn.objects.hand_in(
        frames=[frame_of(sam, framed(scene(2)))], reshoot_of=first, **about
    )
    open_as(ines, f"/pair/{second.pk}/")
    page.get_by_role("button", name="Wiped").click()
    page.get_by_text("They lie edge on edge").wait_for()


def test_pixels_that_are_not_there_yet_are_said(troubled, ines, pair):
    page = troubled(ines, f"/pair/{pair.pk}/")
    page.get_by_role("button", name="Wiped").click()
    page.get_by_text("thing on thing").wait_for()
    page.route("**/crop?**", lambda route: route.abort("internetdisconnected"))
    page.get_by_role("button", name="True pixels").click()
    page.get_by_text("Their own pixels are still coming").wait_for()
    page.unroute("**/crop?**")
    page.get_by_text("Their own pixels are still coming").wait_for(state="detached")
    assert page.get_by_text("thing on thing").is_visible()


def test_without_scripts_both_lie_side_by_side(own_browser, ines, pair):
    page = own_browser(java_script_enabled=False)(ines, f"/pair/{pair.pk}/")
    assert page.locator(".pair img.picture").count() == 2
    assert page.get_by_role("button", name="Wiped").count() == 0

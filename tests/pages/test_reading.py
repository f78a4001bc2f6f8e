"""Lessons as they are read: words that open without a script, drawings whose words can be read."""

import pytest

from course import carry
from course.archive import read_archive
from course.models import Enrolment, Lesson
from course.views.carry import SHIPPED

pytestmark = pytest.mark.browser


@pytest.fixture
def lesson(ines, sam):
    course = carry.load(read_archive(carry.files_of_folder(SHIPPED)), owner=ines)
    Enrolment.objects.create(group=course.groups.create(name="Thursdays", week_now=2), user=sam)
    return Lesson.objects.get(title="The gear ladder", week__course=course)


def test_a_word_opens_its_meaning_and_leads_back_without_a_script(own_browser, sam, lesson):
    plain = own_browser(java_script_enabled=False, viewport={"width": 320, "height": 640})
    page = plain(sam, f"/lesson/{lesson.pk}/")
    page.click("a.word:text('dioptres')")
    meaning = page.locator(".meaning:target")
    assert "The strength of a close-up lens" in meaning.inner_text()
    box = meaning.bounding_box()
    assert 0 <= box["y"] <= 640 - box["height"]  # it came up where one reads
    page.click(".meaning:target a")
    assert page.locator(".meaning:target").count() == 0
    assert page.locator("a.word:text('dioptres')").bounding_box()["y"] < 640


@pytest.mark.parametrize("width", [320, 1440])
def test_words_of_a_drawing_can_be_read_and_nothing_runs_off_the_page(
    open_as, page, sam, lesson, width
):
    page.set_viewport_size({"width": width, "height": 800})
    open_as(sam, f"/lesson/{lesson.pk}/")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    widths = page.eval_on_selector_all(
        ".reading img", "all => all.map(i => i.getBoundingClientRect().width)"
    )
    assert len(widths) == 2
    for shown in widths:
        # the smallest letters of the ladder have 14 of its 900 units; 10 px can still be read
        assert 14 * shown / 900 >= 10

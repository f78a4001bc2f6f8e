"""Lessons as they are read: words that open without a script, drawings whose words can be read."""

import io

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from course import carry
from course.archive import read_archive
from course.models import Enrolment, Lesson
from course.views.carry import SHIPPED
from tests.pages.test_carried import squeezed

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
    expect(page.locator(".meaning:target")).to_have_count(0)
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


def test_the_formulas_are_folded_by_topic_and_an_address_unfolds_its_place(own_browser, sam):
    """Without a script; a long page would be in nobody's hand on a phone."""
    plain = own_browser(java_script_enabled=False, viewport={"width": 320, "height": 640})
    shown = plain(sam, "/numbers/")
    assert shown.locator(".formula").count() > 80
    assert shown.locator(".formula:visible").count() == 0
    assert shown.evaluate("document.documentElement.scrollHeight") < 8 * 640
    shown.locator("details:has(#airy_diameter_um) > summary").click()
    expect(shown.locator("#airy_diameter_um")).to_be_visible()
    shown = plain(sam, "/numbers/#effective_f_number")
    expect(shown.locator("#effective_f_number")).to_be_in_viewport()
    assert shown.locator("details[open]").count() == 1


def test_on_paper_every_topic_is_unfolded(open_as):
    page = open_as(None, "/numbers/")
    words = page.locator(".formula h3").all_text_contents()
    leaves = PdfReader(io.BytesIO(page.pdf(format="A4"))).pages
    printed = squeezed(" ".join(leaf.extract_text() for leaf in leaves))
    assert len(words) > 80
    assert [one for one in words if squeezed(one) not in printed] == []

"""The whole way once: from the shipped course to a field morning and back, in a real browser.

Nothing is made behind the pages' backs but the instructor's account and the pictures themselves;
background work is done where a worker would do it.
"""

import io
import re

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from PIL import Image
from playwright.sync_api import expect
from pypdf import PdfReader

from course.models import Course, Group, Lesson, Revision
from shootlog.models import FieldNote, Frame, KeptPlan

pytestmark = pytest.mark.browser


@pytest.fixture
def ines(make_person):
    return make_person("ines", may_teach=True)


def test_from_the_shipped_course_to_the_field_and_back(
    own_browser, live_server, ines, work, tmp_path
):
    phone = {"viewport": {"width": 390, "height": 844}}
    teacher = own_browser(**phone)(ines, "/course/")
    course = _start_from_ours_and_change_it(teacher)
    link = _make_a_group_and_invite(teacher, live_server, course)
    student = own_browser(**phone)(None, "/sign-in/")
    sam = _join(student, link)
    _plan(student, live_server)
    _carry_and_log_without_signal(student, live_server, sam)
    _print_for_everyone(teacher, live_server)
    _come_back_and_sync(student, live_server, sam, work, tmp_path)


def _click_through(page, what):
    """Click what leads to a page; what comes next is not to fall on the page left behind."""
    with page.expect_navigation():
        page.click(what)


def _start_from_ours_and_change_it(page):
    """Load the course, open a lesson, see a change before keeping it, find the former text."""
    page.click("text=Start from our eight-week course")
    expect(page.locator("h1")).to_have_text("Small things, slowly")
    page.click("text=Seeing small >> nth=1")
    page.click("text=Change the lesson")
    text = page.input_value("[name=text]")
    page.fill("[name=text]", "Welcome to my kitchen table.\n\n" + text)
    page.click("text=See it first")
    expect(page.locator(".seen-before")).to_contain_text("Welcome to my kitchen table.")
    assert not Revision.objects.exists()
    page.click("text=Keep the lesson")
    expect(page.locator("main")).to_contain_text("Welcome to my kitchen table.")
    # a word opens its meaning by the address alone
    page.click("a.word >> nth=0")
    expect(page.locator(".meaning:target")).to_be_visible()
    page.click("text=How it read before")
    page.click(".card a >> nth=0")
    expect(page.locator(".compared ins").first).to_contain_text("Welcome")
    assert Lesson.objects.get(title="Seeing small").text.startswith("Welcome")
    return Course.objects.get()


def _make_a_group_and_invite(page, live_server, course):
    page.goto(f"{live_server.url}/groups/new/")
    page.select_option("[name=course]", str(course.pk))
    page.fill("[name=name]", "Thursdays")
    page.fill("[name=week_now]", "7")
    page.click("main button.act-main")
    page.click("text=Add a meeting")
    page.select_option("[name=kind]", "field")
    soon = timezone.localtime() + timezone.timedelta(days=2)
    page.fill("[name=starts_at]", f"{soon:%Y-%m-%dT06:00}")
    page.fill("[name=ends_at]", f"{soon:%Y-%m-%dT10:00}")
    page.fill("[name=place]", "The old mill pond")
    page.fill("[name=tide]", "low 06:40, 0.9 m")
    page.fill("[name=safety]", "Pairs near water.")
    page.click("main button.act-main")
    page.fill("[name=for_name]", "Sam")
    page.click("text=Make an invitation link")
    return page.input_value("[aria-label='The link']")


def _join(page, link):
    page.goto(link)
    page.fill("[name=display_name]", "Sam")
    page.fill("[name=username]", "sam")
    page.fill("[name=password]", "a quiet pond at dawn")
    page.click("main button.act-main")
    expect(page.locator("h1")).to_have_text("This week")
    expect(page.locator("main")).to_contain_text("Eight millimetres at life-size")
    return User.objects.get(username="sam")


def _plan(page, live_server):
    """Tell the kit, wish, look closer, and keep a stack plan that stands on the card."""
    page.goto(f"{live_server.url}/plan/kit/")
    page.fill("[name=body-name]", "A full-frame body")
    _click_through(page, "section:has([name=body-name]) button")
    page.fill("[name=lens-name]", "A ninety")
    page.fill("[name=lens-focal_length_mm]", "90")
    page.fill("[name=lens-largest_ratio]", "1")
    page.fill("[name=lens-free_at_closest_mm]", "120")
    _click_through(page, "section:has([name=lens-name]) button")
    page.goto(f"{live_server.url}/plan/?width_mm=36&depth_mm=8")
    expect(page.locator("main")).to_contain_text("free from its rim to the subject")
    page.click("text=Plan it as a stack >> nth=0")
    expect(page.locator(".plan")).to_contain_text("Count aloud")
    page.fill("[name=name]", "Seed head")
    page.click("text=Keep the plan")
    page.wait_for_url("**/plan/kept/**")
    assert KeptPlan.objects.get().name == "Seed head"


def timeless(text):
    """The words of a card without the minute it was last fetched in."""
    assert "just now" in text
    return re.sub(r"\d\d:\d\d, just now", "", text)


def _carry_and_log_without_signal(page, live_server, sam):
    page.goto(f"{live_server.url}/card/")
    page.wait_for_selector("html[data-carried=yes]")
    with_signal = timeless(page.inner_text("#card"))
    for said in ("Eight millimetres at life-size", "Seed head", "The old mill pond", "low 06:40"):
        assert said in with_signal
    page.goto(f"{live_server.url}/field-log/")
    page.wait_for_selector("html[data-carried=yes]")
    page.context.set_offline(True)
    page.goto(f"{live_server.url}/card/")
    assert timeless(page.inner_text("#card")) == with_signal
    page.goto(f"{live_server.url}/field-log/")
    page.click(".choice:has-text('tripod') >> nth=0")
    page.click(".choice.h9")
    page.click("text=Note it")
    expect(page.locator("[data-waiting]")).to_contain_text("1 note kept on this phone")
    assert not FieldNote.objects.exists()


def _print_for_everyone(page, live_server):
    """The class sheet and the meeting's sheet from the browser, the cards as a file."""
    page.goto(f"{live_server.url}/groups/")
    page.click("text=Thursdays >> nth=0")
    _click_through(page, "text=Field cards")
    with page.expect_download() as waiting:
        page.evaluate(
            "document.querySelector('a[href$=\"a6-14pt.pdf?for=everyone\"]').setAttribute"
            "('download', '')"
        )
        page.click("a[href$='a6-14pt.pdf?for=everyone']")
    cards = PdfReader(waiting.value.path())
    said = " ".join(leaf.extract_text() for leaf in cards.pages)
    assert "Sam · Thursdays" in said
    assert "Seed head" in said
    assert [round(float(side) / 72 * 25.4) for side in cards.pages[0].mediabox[2:]] == [105, 148]
    for link, says in [("Class sheet", "Counts only"), ("sheet to print", "Pairs near water.")]:
        page.goto(f"{live_server.url}/groups/{Group.objects.get().pk}/")
        _click_through(page, f"main a:text-is('{link}')")
        printed = PdfReader(io.BytesIO(page.pdf(format="A4")))
        words = " ".join(leaf.extract_text() for leaf in printed.pages)
        assert says in words
        assert "Sign out" not in words


def _come_back_and_sync(page, live_server, sam, work, tmp_path):
    """Signal again: the note goes by itself, the frame is sent, and the two find each other."""
    page.context.set_offline(False)
    expect(page.locator("[data-waiting]")).to_contain_text("sent", timeout=15_000)
    note = FieldNote.objects.get()
    assert (note.owner, note.support, note.light_clock) == (sam, "tripod", 9)
    path = tmp_path / "DSC_0007.JPG"
    path.write_bytes(_photograph(timezone.localtime(note.noted_at)))
    page.goto(f"{live_server.url}/log/")
    page.set_input_files("input[type=file]", path)
    if page.locator("form:has(input[type=file]) button.act-main").is_visible():
        page.click("form:has(input[type=file]) button.act-main")
    # on the sheet, and not only on its way
    expect(page.locator("#sheet")).to_contain_text("DSC_0007", timeout=30_000)
    work()
    frame = Frame.objects.get()
    assert frame.taken_at is not None
    page.goto(f"{live_server.url}/field-log/")
    page.click("text=Match 1 note to frames")
    page.click("text=Tell these frames")
    expect(page.locator(".said")).to_contain_text("Told of 1 frame")
    frame.refresh_from_db()
    assert frame.told["support"] == "tripod"
    assert re.search("side", str(frame.told["light"]))


def _photograph(moment):
    """A small JPEG with the time a camera would have written."""
    picture = Image.effect_noise((600, 400), 60).convert("RGB")
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Maker", "Model"
    inside = exif.get_ifd(0x8769)
    inside[0x9003] = f"{moment:%Y:%m:%d %H:%M:%S}"
    inside[0x829D], inside[0x920A] = 8.0, 90.0
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif, quality=92)
    return out.getvalue()

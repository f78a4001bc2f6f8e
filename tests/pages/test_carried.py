"""The field card and the field log in a real browser with the network cut."""

import io
import json

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from course.models import Criterion, Exercise, Week
from course.views import offline
from shootlog.models import FieldNote, KeptSetUp
from tests.pages.acts import press

pytestmark = pytest.mark.browser
#: waits ten seconds at the most for a kept look to go
GONE = """async (name) => {
    for (let k = 0; k < 100 && await caches.has(name); k++) {
        await new Promise((done) => setTimeout(done, 100));
    }
}"""


@pytest.fixture
def week_of_cards(course, group, sam):
    week = Week.objects.create(course=course, number=1, title="Getting close")
    exercise = Exercise.objects.create(week=week, title="A seed head", subject_depth_mm=8)
    Criterion.objects.create(exercise=exercise, kind="quantity", quantity="magnification", low=0.9)
    KeptSetUp.objects.create(
        owner=sam, name="90 rail", focal_length_mm=90, ring_magnification=1, sensor_width_mm=36
    )
    return group


def carried(page):
    page.wait_for_selector("html[data-carried=yes]")


def test_the_card_opens_without_signal_and_says_how_old_it_is(troubled, week_of_cards, sam):
    page = troubled(sam, f"/card/{week_of_cards.pk}/")
    carried(page)
    with_signal = page.inner_text("#card")
    page.context.set_offline(True)
    page.reload()
    assert page.inner_text("#card") == with_signal
    assert "90 rail: 1.0 times life-size" in with_signal
    assert "just now" in with_signal
    assert "No signal" in page.inner_text("[data-kept]")
    # the look came along, too: without it the heading would be in the browser's own type
    assert "Atkinson" in page.evaluate("getComputedStyle(document.body).fontFamily")
    assert page.evaluate("document.fonts.check('18px Atkinson')")
    page.context.set_offline(False)


def test_the_browsers_own_print_says_the_same(week_of_cards, sam, open_as):
    page = open_as(sam, f"/card/{week_of_cards.pk}/")
    shown = squeezed(page.inner_text("#card").replace(", just now", ""))
    pages = PdfReader(io.BytesIO(page.pdf(format="A6"))).pages
    said = squeezed(" ".join(one.extract_text() for one in pages))
    assert said.replace("50mm", "") == shown  # the edge's own label, on every leaf
    assert [float(side) for side in pages[0].mediabox[2:]] == pytest.approx([298, 420], abs=2)


def squeezed(text):
    return "".join(text.split())


def test_an_old_card_says_so(troubled, week_of_cards, sam):
    page = troubled(sam, f"/card/{week_of_cards.pk}/")
    carried(page)
    page.context.set_offline(True)
    # the phone comes out of the pocket five hours later
    page.add_init_script("const real = Date.now; Date.now = () => real() + 5 * 3600e3;")
    page.reload()
    assert "5 hours ago" in page.inner_text("[data-made]")
    page.context.set_offline(False)


def test_after_an_update_the_old_look_goes_once_the_cards_are_new(
    troubled, week_of_cards, sam, monkeypatch
):
    page = troubled(sam, f"/card/{week_of_cards.pk}/")
    carried(page)
    (before,) = shells(page)
    monkeypatch.setattr(offline, "SHELL", [*offline.SHELL, "icon-192.png"])
    page.evaluate("navigator.serviceWorker.getRegistration().then(r => r.update())")
    page.evaluate(GONE, before)
    (after,) = shells(page)
    assert after != before
    page.context.set_offline(True)
    page.reload()
    assert "90 rail" in page.inner_text("#card")
    page.context.set_offline(False)


def shells(page):
    return page.evaluate("caches.keys().then(all => all.filter(n => n.startsWith('shell-')))")


def test_other_pages_are_not_kept(troubled, week_of_cards, sam):
    page = troubled(sam, f"/card/{week_of_cards.pk}/")
    carried(page)
    page = troubled(sam, "/log/")
    kept = page.evaluate(
        "caches.open('carried').then(c => c.keys()).then(k => k.map(r => new URL(r.url).pathname))"
    )
    assert sorted(kept) == [f"/card/{week_of_cards.pk}/", "/field-log/"]


def test_whoever_signs_out_leaves_no_card_behind(troubled, week_of_cards, sam):
    page = troubled(sam, f"/card/{week_of_cards.pk}/")
    carried(page)
    press(page, "Sign out")
    assert page.evaluate("caches.has('carried')") is False


def test_taps_wait_on_the_phone_and_are_sent_when_there_is_signal(troubled, week_of_cards, sam):
    page = troubled(sam, "/field-log/")
    carried(page)
    page.context.set_offline(True)
    page.reload()
    tap(page, "rail on a tripod", "9")
    page.click("text=Note it")
    tap(page, None, "12")
    page.click("text=Note it")
    assert "2 notes kept on this phone" in page.inner_text("[data-waiting]")
    assert not FieldNote.objects.exists()
    page.reload()  # the browser was closed in between; nothing is lost
    assert "2 notes kept on this phone" in page.inner_text("[data-waiting]")
    page.context.set_offline(False)
    expect(page.locator("[data-waiting]")).to_contain_text("sent")
    first, second = FieldNote.objects.order_by("noted_at")
    assert (first.support, first.light_clock) == ("rail", 9)
    assert second.support == "rail"  # as before, without a tap
    assert second.light_clock == 12
    assert first.set_up.name == "90 rail"
    assert json.loads(page.evaluate(f"localStorage['field-notes-{sam.pk}']")) == []


def test_notes_of_one_person_are_not_sent_by_another(troubled, week_of_cards, sam, noor):
    page = troubled(sam, "/field-log/")
    carried(page)
    page.context.set_offline(True)
    tap(page, None, "3")
    page.click("text=Note it")
    page.context.set_offline(False)
    expect(page.locator("[data-waiting]")).to_contain_text("sent")
    troubled(noor, "/field-log/")
    assert {note.owner for note in FieldNote.objects.all()} == {sam}


def test_a_session_that_ended_keeps_the_notes(troubled, week_of_cards, sam):
    page = troubled(sam, "/field-log/")
    carried(page)
    page.context.clear_cookies()
    tap(page, None, "3")
    page.click("text=Note it")
    expect(page.locator("[data-waiting]")).to_contain_text("Sign in")
    assert "1 note kept on this phone" in page.inner_text("[data-waiting]")


def test_three_taps_by_keyboard(week_of_cards, sam, open_as):
    page = open_as(sam, "/field-log/")
    page.focus("[name=light_clock][value='12']")
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("document.querySelector('[name=light_clock]:checked').value") == "11"


@pytest.mark.parametrize("width", [320, 768, 1440])
def test_everything_fits_and_is_large_enough_for_a_thumb(week_of_cards, sam, open_as, page, width):
    page.set_viewport_size({"width": width, "height": 800})
    for path in [f"/card/{week_of_cards.pk}/", "/field-log/", "/field-log/notes/", "/card/"]:
        open_as(sam, path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    open_as(sam, "/field-log/")
    boxes = page.eval_on_selector_all(
        ".choice span:not(.read-aloud-only)",
        "all => all.map(e => e.getBoundingClientRect()).map(b => [b.width, b.height])",
    )
    assert min(min(box) for box in boxes) >= 47.5


def test_the_manifest_can_be_installed(client, db):
    answer = client.get("/field-card.webmanifest")
    assert answer.headers["Content-Type"] == "application/manifest+json"
    told = answer.json()
    # what a browser asks before it offers to install (W3C Web Application Manifest)
    assert told["start_url"] == "/card/"
    assert told["display"] == "standalone"
    assert {icon["sizes"] for icon in told["icons"]} >= {"192x192", "512x512"}
    worker = client.get("/offline-worker.js")
    assert worker.headers["Content-Type"] == "text/javascript"
    assert "no-cache" in worker.headers["Cache-Control"]


def tap(page, support, hour):
    if support:
        page.click(f".choice:has-text('{support}')")
    page.click(f".choice.h{hour}")

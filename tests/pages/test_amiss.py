"""What goes amiss while somebody writes or sends: nothing is lost, and a clear word is said."""

import re
import time

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse

from course.models import Crit, Enrolment, HandIn, Lesson
from tests.frames import PAST_DIFFRACTION, make_frame
from tests.pages.acts import follow, sign_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
AT_EITHER_PRINT = pytest.mark.parametrize(
    "which",
    [
        pytest.param(0, id="with a next print"),
        pytest.param(1, id="at the last print", marks=pytest.mark.slow),
    ],
)


@pytest.fixture
def prints(sam, group, exercise):
    about = {"exercise": exercise, "group": group, "student": sam}
    return [
        HandIn.objects.hand_in(
            frames=[make_frame(sam, pictures=True)], wanted=f"wanted {k}", **about
        )
        for k in range(2)
    ]


@pytest.mark.slow
def test_the_line_is_lost_while_writing_and_comes_back(troubled, ines, prints):
    page = troubled(ines, f"/to-look-at/{prints[0].pk}/")
    page.context.set_offline(True)
    page.fill("[name=words]", "You moved instead of turning the ring.")
    page.locator("[data-kept]", has_text="Not kept yet").wait_for()
    assert not Crit.objects.exists()
    page.context.set_offline(False)
    page.locator("[data-kept]", has_text=re.compile(r"^Kept")).wait_for()
    assert Crit.objects.get().words == "You moved instead of turning the ring."


def slow_line(page, pattern, seconds=0.7):
    """What goes to these addresses takes so long that a page asked for meanwhile is there first."""

    def late(route):
        time.sleep(seconds)
        route.continue_()

    page.route(pattern, late)


def writes(page, words):
    page.keyboard.press("w")
    page.keyboard.type(words)
    page.keyboard.press("Escape")


def test_not_so_right_after_writing_waits_for_the_words(troubled, ines, sam, group, exercise):
    """The page that comes back has the words, and shows the frame that was looked at."""
    about = {"pictures": True, "numbers": PAST_DIFFRACTION, "flags": ["diffraction"]}
    frames = [make_frame(sam, **about) for _ in "ab"]
    row = HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=frames)
    page = troubled(ines, f"/to-look-at/{row.pk}/?frame=2")
    slow_line(page, "**/words/")
    writes(page, "Held.")
    page.keyboard.press("x")
    page.get_by_text("Why is it not so?").wait_for()
    assert page.url.endswith("?frame=2")
    assert page.locator("[name=words]").input_value() == "Held."
    assert "another page" not in page.locator("[data-kept]").inner_text()
    assert Crit.objects.get().words == "Held."
    assert frames[1].flags.get().set_aside_at is not None
    assert frames[0].flags.get().set_aside_at is None
    page.fill("[name=words]", "Held, at the left.")  # and nothing is told to be old
    page.locator("[data-kept]", has_text=re.compile(r"^Kept")).wait_for()


@pytest.mark.parametrize("reached", [True, False], ids=["reached all the same", "not reached"])
def test_a_browser_without_a_network(troubled, ines, sam, group, exercise, reached):
    """It may still reach a house on its own machine; only where it does not, the page stays."""
    frame = make_frame(sam, pictures=True, flags=["diffraction"], numbers=PAST_DIFFRACTION)
    row = HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[frame])
    page = troubled(ines, f"/to-look-at/{row.pk}/")
    page.evaluate("Object.defineProperty(navigator, 'onLine', { value: false })")
    page.context.set_offline(not reached)
    page.keyboard.press("x")
    if reached:
        page.get_by_text("Why is it not so?").wait_for()
    else:
        page.locator("[data-kept]", has_text="The connection is lost").wait_for()
        page.context.set_offline(False)
        page.keyboard.press("x")
        page.get_by_text("Why is it not so?").wait_for()
    assert frame.flags.get().set_aside_at is not None


@pytest.mark.slow
@pytest.mark.parametrize("decided", [False, True], ids=["words", "decision"])
def test_what_was_said_last_is_there_on_the_way_back(troubled, ines, prints, decided):
    """The print before is not shown as it was when it was fetched."""
    page = troubled(ines, "/to-look-at/")
    page.goto(page.url + f"{prints[0].pk}/")
    page.wait_for_load_state("networkidle")
    slow_line(page, "**/words/")
    slow_line(page, "**/decide/")
    writes(page, "Held.")
    page.keyboard.press("k" if decided else "n")
    page.get_by_text("wanted 1").wait_for()
    page.keyboard.press("p")
    page.get_by_text("wanted 0").wait_for()
    assert page.locator("[name=words]").input_value() == "Held."
    pressed = page.locator("button[value=kept]").get_attribute("aria-pressed")
    assert pressed == ("true" if decided else None)


@AT_EITHER_PRINT
def test_the_line_is_lost_when_the_decision_is_pressed(troubled, ines, prints, which):
    """It is said, and the decision goes by itself once the line is back."""
    page = troubled(ines, "/to-look-at/")
    page.goto(page.url + f"{prints[which].pk}/")
    page.wait_for_load_state("networkidle")
    page.context.set_offline(True)
    writes(page, "Held.")
    page.keyboard.press("k")
    page.get_by_text("What you decided is not kept yet").wait_for()
    page.get_by_text("wanted 1").wait_for()
    assert not HandIn.objects.exclude(state="waiting").exists()
    page.context.set_offline(False)
    if which == 0:
        page.get_by_text("the house has every decision").wait_for()
    else:
        page.wait_for_url(re.compile("/to-look-at/$"))
    assert HandIn.objects.get(state="kept") == prints[which]
    assert Crit.objects.exclude(words="").get().words == "Held."


@pytest.mark.parametrize("by", ["two clicks", "a key held"])
def test_pressing_twice_decides_one_print(troubled, ines, prints, by):
    """The next print lies there at once; the second press is not meant for it."""
    page = troubled(ines, f"/to-look-at/{prints[0].pk}/")
    with page.expect_response("**/decide/"):
        if by == "two clicks":
            page.get_by_role("button", name="Keep", exact=True).dblclick(delay=60)
        else:
            for _ in range(20):
                page.keyboard.down("k")
                page.wait_for_timeout(40)
            page.keyboard.up("k")
    page.get_by_text("wanted 1").wait_for()
    writes(page, "Held.")  # a second decision would have gone before these words
    page.locator("[data-kept]", has_text=re.compile(r"^Kept")).wait_for()
    assert [row.state for row in HandIn.objects.order_by("pk")] == ["kept", "waiting"]


@pytest.mark.parametrize(
    ("trouble", "says"),
    [
        ("no line", "the connection is lost. The note stays here"),
        pytest.param("no session", "you are signed out", marks=pytest.mark.slow),
    ],
)
def test_a_voice_note_that_could_not_be_kept_is_sent_again(troubled, ines, prints, trouble, says):
    page = troubled(ines, f"/to-look-at/{prints[1].pk}/")
    if trouble == "no line":
        page.route("**/voice/", lambda route: route.abort("internetdisconnected"))
    else:
        Session.objects.all().delete()
    page.get_by_role("button", name="Record a voice note").click()
    page.get_by_text("Recording, 1 s").wait_for()
    page.get_by_role("button", name="Stop and keep").click()
    page.get_by_text(says).wait_for()
    assert page.locator("audio").get_attribute("src").startswith("blob:")
    if trouble == "no line":
        page.unroute("**/voice/")
        page.evaluate("dispatchEvent(new Event('online'))")  # it goes by itself
    else:
        other = page.context.new_page()
        other.goto(re.match(r"https?://[^/]+", page.url)[0] + "/sign-in/")
        sign_in(other, "ines")
        page.get_by_role("button", name="Send the note again").click()
    page.locator("[data-voice-says]", has_text="Kept.").wait_for()
    assert Crit.objects.get().voice_key
    assert page.get_by_role("button", name="Send the note again").count() == 0


@AT_EITHER_PRINT
def test_the_session_ends_while_writing_and_the_decision_is_pressed(troubled, ines, prints, which):
    """Signing in leads back to the print, with every word."""
    page = troubled(ines, "/to-look-at/")
    page.goto(page.url + f"{prints[which].pk}/")
    page.wait_for_load_state("networkidle")
    Session.objects.all().delete()
    page.fill("[name=words]", "The left edge holds.")
    page.get_by_role("button", name="Keep", exact=True).click()
    page.wait_for_url(re.compile("/sign-in/"))
    sign_in(page, "ines")
    page.wait_for_url(re.compile(f"/to-look-at/{prints[which].pk}/$"))
    assert page.locator("[name=words]").input_value() == "The left edge holds."
    page.locator("[data-kept]", has_text=re.compile(r"^Kept")).wait_for()
    assert Crit.objects.get().words == "The left edge holds."
    assert Crit.objects.get().decision == ""  # it is pressed again by a person, not by us


@pytest.mark.parametrize("elsewhere", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_the_session_ends_and_a_button_is_pressed(troubled, ines, sam, group, exercise, elsewhere):
    """One comes back to the print with a clear word, and the button works then."""
    about = {"pictures": True, "numbers": PAST_DIFFRACTION, "flags": ["diffraction"]}
    frames = [make_frame(sam, **about) for _ in "ab"]
    row = HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=frames)
    page = troubled(ines, f"/to-look-at/{row.pk}/?frame=2")
    Session.objects.all().delete()
    if elsewhere:
        other = page.context.new_page()
        other.goto(re.match(r"https?://[^/]+", page.url)[0] + "/sign-in/")
        sign_in(other, "ines")
        other.wait_for_url(re.compile("/to-look-at/"))
    else:
        page.keyboard.press("x")
        page.wait_for_url(re.compile("/sign-in/"))
        assert "what you pressed was not done" in page.locator(".said").inner_text()
        sign_in(page, "ines")
        page.wait_for_url(re.compile(f"/to-look-at/{row.pk}/.frame=2$"))
        page.wait_for_load_state("networkidle")
    page.keyboard.press("x")
    page.get_by_text("Why is it not so?").wait_for()
    assert frames[1].flags.get().set_aside_at is not None


@pytest.mark.slow
def test_the_session_ends_and_one_signs_in_on_another_page(troubled, ines, prints):
    page = troubled(ines, f"/to-look-at/{prints[0].pk}/")
    Session.objects.all().delete()
    page.fill("[name=words]", "Held.")
    page.locator("[data-kept]", has_text="You are signed out").wait_for()
    other = page.context.new_page()
    other.goto(re.match(r"https?://[^/]+", page.url)[0] + "/sign-in/")
    sign_in(other, "ines")
    other.wait_for_url(re.compile("/to-look-at/"))
    page.evaluate("dispatchEvent(new Event('online'))")
    page.locator("[data-kept]", has_text=re.compile(r"^Kept")).wait_for()
    assert Crit.objects.get().words == "Held."


@pytest.mark.slow
def test_the_back_button_after_a_decision_shows_what_was_said(troubled, ines, prints):
    page = troubled(ines, "/to-look-at/")
    page.goto(page.url + f"{prints[0].pk}/")
    page.wait_for_load_state("networkidle")
    page.fill("[name=words]", "Held.")
    with page.expect_response("**/decide/"):
        page.get_by_role("button", name="Keep", exact=True).click()
    page.wait_for_url(re.compile(f"/{prints[1].pk}/"))
    page.go_back()
    page.get_by_text("wanted 0").wait_for()
    assert page.locator("[name=words]").input_value() == "Held."
    assert page.locator("button[value=kept]").get_attribute("aria-pressed") == "true"


@pytest.mark.slow
def test_two_people_look_at_one_print_at_once(own_browser, as_person, ines, arno, sam, prints):
    """Each writes, decides and releases; neither overwrites the other, and the student has both."""
    pages = []
    for person, words in ((ines, "Turn the ring."), (arno, "And move.")):
        page = own_browser()(person, f"/to-look-at/{prints[1].pk}/")
        page.fill("[name=words]", words)
        pages.append(page)
    for page in pages:
        page.locator("[data-kept]", has_text=re.compile(r"^Kept")).wait_for()
        page.get_by_label("Release it at once").check()
    for page in pages:
        page.get_by_role("button", name="Talked through", exact=True).click()
        page.wait_for_url(re.compile("/to-look-at/$"))
    said = as_person(sam).get(f"/came-back/{prints[1].pk}/").text
    assert "Turn the ring." in said
    assert "And move." in said
    assert Crit.objects.released().count() == 2


def test_the_print_is_taken_back_while_it_is_looked_at(troubled, ines, prints):
    page = troubled(ines, f"/to-look-at/{prints[0].pk}/")
    prints[0].withdraw()
    page.fill("[name=words]", "Such light.")
    page.locator("[data-kept]", has_text=re.compile(r"^Kept")).wait_for()
    page.reload()
    said = page.locator("main").inner_text()
    assert "took this hand-in back" in said
    assert page.locator("img.picture").count() == 0
    assert page.locator("[name=words]").input_value() == "Such light."


def test_the_frame_is_deleted_while_it_is_looked_at(troubled, as_person, ines, sam, prints):
    page = troubled(ines, f"/to-look-at/{prints[0].pk}/")
    as_person(sam).post(f"/me/things/frame/{prints[0].first_frame.pk}/")
    page.fill("[name=words]", "Such light.")
    page.locator("[data-kept]", has_text="its maker took it away").wait_for()
    assert page.locator("[name=words]").input_value() == "Such light."


def test_what_came_back_stays_after_leaving_the_group(as_person, ines, sam, prints):
    prints[0].keep(by=ines)
    prints[0].release(by=ines)
    Enrolment.objects.get(user=sam).leave()
    assert as_person(sam).get(f"/came-back/{prints[0].pk}/").status_code == 200
    assert as_person(sam).get(f"/hand-in/{prints[0].exercise_id}/").status_code == 302


def test_somebody_who_never_was_in_the_group_learns_nothing(as_person, otto, exercise):
    assert as_person(otto).get(f"/hand-in/{exercise.pk}/").status_code == 404


def test_somebody_leaves_the_group_while_their_print_is_looked_at(troubled, ines, sam, prints):
    page = troubled(ines, f"/to-look-at/{prints[1].pk}/")
    Enrolment.objects.get(user=sam).leave()
    page.fill("[name=words]", "Such light.")
    page.locator("[data-kept]", has_text=re.compile(r"^Kept")).wait_for()
    page.get_by_role("button", name="Keep", exact=True).click()
    page.wait_for_url(re.compile("/to-look-at/$"))
    assert HandIn.objects.get(pk=prints[1].pk).state == "kept"
    assert Crit.objects.get().words == "Such light."


def test_what_one_left_as_it_was_is_not_offered_again(troubled, ines, exercise):
    lesson = Lesson.objects.create(week=exercise.week, title="Depth", text="Thin.")
    address = reverse("course:edit-lesson", args=[lesson.pk])
    page = troubled(ines, address)
    page.fill("[name=text]", "As thin as a leaf.")
    follow(page, "Leave as it is")
    page.goto(re.match(r"https?://[^/]+", page.url)[0] + address)
    assert page.locator("[name=text]").input_value() == "Thin."
    assert page.get_by_text("What you had typed before is back.").count() == 0


@pytest.mark.parametrize("new", [True, pytest.param(False, marks=pytest.mark.slow)])
def test_the_session_ends_while_a_lesson_is_written(troubled, ines, exercise, new):
    """The text is back after signing in; once kept it is not offered to the next lesson."""
    lesson = None if new else Lesson.objects.create(week=exercise.week, title="Depth", text="Thin.")
    args = [exercise.week_id] if new else [lesson.pk]
    address = reverse("course:new-lesson" if new else "course:edit-lesson", args=args)
    page = troubled(ines, address)
    page.fill("[name=title]", "Depth of field")
    page.fill("[name=text]", "As thin as a leaf.")
    Session.objects.all().delete()
    page.get_by_role("button", name="Keep the lesson").click()
    page.wait_for_url(re.compile("/sign-in/"))
    sign_in(page, "ines")
    page.wait_for_url(re.compile(address))
    page.get_by_text("What you had typed before is back.").wait_for()
    assert page.locator("[name=text]").input_value() == "As thin as a leaf."
    page.context.set_offline(True)
    page.get_by_role("button", name="Keep the lesson").click()
    page.get_by_text("The connection is lost. What you typed stays here").wait_for()
    page.context.set_offline(False)
    page.get_by_role("button", name="Keep the lesson").click()
    page.wait_for_url(re.compile(r"/lesson/\d+/$"))
    assert Lesson.objects.get().text == "As thin as a leaf."
    page.goto(re.match(r"https?://[^/]+", page.url)[0] + address)
    page.wait_for_load_state("networkidle")
    expected = "" if new else "As thin as a leaf."
    assert page.locator("[name=text]").input_value() == expected

"""What a page says where one seldom comes: nothing there yet, taken back, no longer open."""

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from course.models import Enrolment, Exercise, Group, HandIn, Invitation, Week
from shootlog.models import Frame, Series
from tests.frames import PAST_DIFFRACTION

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("address", "heading"),
    [
        ("/join/made-up/", "This link is no longer open"),
        ("/reset/made-up/", "This link is no longer open"),
        ("/made-up/", "Nothing lies here"),
    ],
)
def test_a_link_that_was_used_is_not_called_somebody_elses(client, address, heading):
    answer = client.get(address)
    assert answer.status_code == 404
    assert f"<h1>{heading}</h1>" in answer.text


@pytest.mark.parametrize(
    ("role", "said"), [("student", "a student"), ("assistant", "an assistant")]
)
def test_an_invitation_reads_as_a_sentence(client, group, role, said):
    _, token = Invitation.objects.make(
        lasts=timedelta(days=1), course=group.course, group=group, role=role, for_name="Sam"
    )
    page = client.get(reverse("course:join", args=[token])).text
    words = " ".join(re.sub("<[^>]+>", "", page.partition("<main")[2]).split())
    assert f"Sam, this link brings you into Spring group (Small worlds) as {said}." in words


def test_what_was_taken_back_asks_for_no_look_and_can_be_handed_in_again(
    as_person, sam, exercise, hand_in
):
    exercise.self_check = True
    exercise.save()
    row = hand_in(sam)
    client, address = as_person(sam), reverse("course:came-back", args=[row.pk])
    assert "You first" in client.get(address).text
    row.withdraw()
    page = client.get(address).text
    assert "You first" not in page
    assert f'href="{reverse("course:hand-in", args=[exercise.pk])}">Hand in again</a>' in page
    assert "Hand in a reshoot" not in page


def test_a_decision_without_words_makes_no_empty_block(as_person, ines, sam, hand_in):
    row = hand_in(sam)
    crit = row.crit_by(ines)
    row.keep(by=ines)
    row.release(by=ines)
    address = reverse("course:came-back", args=[row.pk])
    assert 'class="block yours"' not in as_person(sam).get(address).text
    crit.refresh_from_db()
    crit.save_said(revision=crit.revision, words="Held.")
    assert 'class="block yours"' in as_person(sam).get(address).text


def test_a_refused_file_is_named_once(as_person, sam, exercise, group):
    letter = SimpleUploadedFile("letter.txt", b"Dear all, " * 50)
    page = as_person(sam).post(reverse("course:hand-in", args=[exercise.pk]), {"files": [letter]})
    assert page.text.count("letter.txt") == 1
    Enrolment.objects.get(user=sam).leave()
    letter = SimpleUploadedFile("letter.txt", b"Dear all, " * 50)
    client = as_person(sam)
    client.post(reverse("course:hand-in", args=[exercise.pk]), {"files": [letter]})
    assert client.get("/log/").text.count("letter.txt") == 1


@pytest.mark.parametrize(
    ("state", "says"),
    [
        (Frame.State.UNREADABLE, "The file cannot be opened, so its picture was not looked at."),
        (Frame.State.WAITING, "Still being read."),
        (Frame.State.READY, "Nothing stands out in the numbers."),
    ],
)
def test_the_point_of_a_print_without_one(as_person, ines, sam, hand_in, make_frame, state, says):
    row = hand_in(sam, frames=[make_frame(sam, state=state)])
    page = as_person(ines).get(reverse("course:look", args=[row.pk])).text
    assert says in page.partition("<h2>The point</h2>")[2].partition("</section>")[0]


def test_the_way_to_release_remembers_the_frame(as_person, ines, sam, hand_in, make_frame):
    row = hand_in(sam, frames=[make_frame(sam) for _ in range(3)])
    row.crit_by(ines).save_said(revision=0, words="Held.")
    client = as_person(ines)
    page = client.get(reverse("course:look", args=[row.pk]) + "?frame=2").text
    form = page.partition(f'action="{reverse("course:release", args=[row.pk])}"')[2]
    sent = dict(re.findall(r'name="(stay|frame)" value="([^"]*)"', form.partition("</form>")[0]))
    assert sent == {"stay": "yes", "frame": "2"}
    answer = client.post(reverse("course:release", args=[row.pk]), sent)
    assert answer.url.endswith("?frame=2")
    assert "data-released" in client.get(answer.url).text
    # one thing is missing; a page that says nothing of what it knew
    for refused in ({"decision": "reshoot asked", "revision": "1"}, {"decision": "kept"}):
        answer = client.post(reverse("course:decide", args=[row.pk]), refused | {"frame": "2"})
        assert answer.url.endswith("?frame=2")
        assert HandIn.objects.get().state == "waiting"


def test_where_nothing_lies_nothing_is_narrowed_or_missed(as_person, ines, noor, otto, group):
    table = reverse("course:to-look-at")
    assert "Narrow the table" not in as_person(ines).get(table).text
    assert "Narrow the table" in as_person(ines).get(table, {"nothing_said": "on"}).text
    read = reverse("course:read-course", args=[group.course_id])
    assert "You missed one?" not in as_person(noor).get(read).text
    Week.objects.create(course=group.course, number=1, title="One")
    assert "You missed one?" in as_person(noor).get(read).text
    assert '<a href="/log/">your log</a>' in as_person(otto).get("/this-week/").text


def test_forms_offer_what_there_is(as_person, ines, course, other_course):
    """Of one course there is nothing to choose; a new lesson has no topics yet."""
    client = as_person(ines)
    assert "choose a course" not in client.get(reverse("course:new-group")).text
    other_course.teachings.create(user=ines, role="instructor")
    assert "choose a course" in client.get(reverse("course:new-group")).text
    week = Week.objects.create(course=course, number=1)
    page = client.get(reverse("course:new-lesson", args=[week.pk])).text
    topics = re.search(r'<input[^>]*name="topics"[^>]*>', page)[0]
    assert "value=" not in topics
    said = client.post(reverse("course:new-lesson", args=[week.pk]), {"title": ""}).text
    assert "Please fill this in." in said


def test_a_table_laid_out_anew_pushes_no_other_out(as_person, ines, sam, noor, week, hand_in):
    """Three tables are kept; the same one again is not a fourth."""
    other = Exercise.objects.create(week=week, title="A shell")
    rows = [hand_in(noor, exercise=other) for _ in range(2)]
    mine = hand_in(sam)
    client, table = as_person(ines), reverse("course:to-look-at")
    client.get(table, {"student": noor.pk})
    for _ in range(3):
        client.get(table, {"student": sam.pk})
    assert client.session["walks"] == [[mine.pk], [row.pk for row in rows]]


def test_who_teaches_and_learns_stands_in_the_course_they_write(as_person, ines, other_course):
    group = Group.objects.create(course=other_course, name="Mondays")
    Enrolment.objects.create(group=group, user=ines)
    strap = as_person(ines).get("/course/").text.partition("</header>")[0]
    assert ">This week</a>" in strap
    assert re.findall(r'aria-current="\w+">([^<]+)', strap) == ["Course"]
    taught = ines.teachings.get().course_id
    strap = as_person(ines).get(f"/course/{taught}/").text.partition("</header>")[0]
    assert re.findall(r'aria-current="\w+">([^<]+)', strap) == ["Course"]


def test_papers_are_named_by_size_and_print(as_person, sam, group):
    page = as_person(sam).get(reverse("course:card", args=[group.pk])).text
    assert "in large print</a>" in page
    assert " pt</a>" not in page


def test_the_formulas_follow_the_course(client):
    page = client.get("/numbers/").text
    places = [page.index(f'id="{slug}"') for slug in ("blur", "best_stop", "sampling")]
    assert places == sorted(places)


def test_every_button_beside_a_finding_says_which_frame_was_looked_at(
    as_person, ines, sam, hand_in, make_frame
):
    thin = {"depth_of_field_mm": (0.34, "worked out"), "subject_depth_mm": (5.0, "told")}
    about = {"numbers": PAST_DIFFRACTION | thin, "flags": ["diffraction", "thin-depth"]}
    frames = [make_frame(sam, **about) for _ in range(2)]
    look = reverse("course:look", args=[hand_in(sam, frames=frames).pk]) + "?frame=2"
    client = as_person(ines)
    page = client.get(look).text
    frames[1].flags.get(finding="diffraction").set_aside(by=ines)
    page += client.get(look).text  # asks why, and offers to let it stand
    button = r'<form[^>]*action="[^"]*/(not-so|say-first)/[^"]*"(.*?)</form>'
    found = re.findall(button, page, re.S)
    assert {name for name, _ in found} == {"not-so", "say-first"}
    assert len(found) >= 6
    assert [said for _, said in found if 'name="frame" value="2"' not in said] == []


def test_what_frames_say_together_is_pointed_to(as_person, ines, sam, hand_in, make_frame):
    frames = [make_frame(sam) for _ in range(3)]
    series = Series.objects.of_frames(owner=sam, kind="stack", frames=frames)
    row = hand_in(sam, frames=frames, series=series)
    page = as_person(ines).get(reverse("course:look", args=[row.pk])).text
    assert "In this frame nothing stands out. What the frames say together stands below." in page


def test_whatever_is_written_of_a_course_is_held_while_it_is_written(as_person, ines, exercise):
    client, week = as_person(ines), exercise.week
    for name, args in (
        ("edit-week", [week.pk]),
        ("new-lesson", [week.pk]),
        ("edit-exercise", [exercise.pk]),
        ("phrases", []),
    ):
        address = reverse(f"course:{name}", args=args)
        page = client.get(address).text
        assert f'<form method="post" data-typed="{address}">' in page, name
        assert "typed.js" in page, name

"""A course bent to one's own voice: seen first, kept with all it said before, put in order."""

import re

import pytest

from course.compare import changes, word_by_word
from course.glossary import lines_amiss, read_glossary
from course.markdown import left_out, to_html, with_words
from course.models import Criterion, Exercise, Lesson, Revision, Week

ROWS = {
    "row-TOTAL_FORMS": "1",
    "row-INITIAL_FORMS": "0",
    "row-MIN_NUM_FORMS": "0",
    "row-MAX_NUM_FORMS": "1000",
}


@pytest.fixture
def lesson(week):
    return Lesson.objects.create(week=week, title="Slices", text="One two three.", topics=["a"])


def test_a_lesson_is_seen_before_it_is_kept(ines, as_person, lesson):
    sent = {"title": "Slices", "text": "One *two*. [x](/lesson/99999/)", "preview": "yes"}
    page = as_person(ines).post(f"/lesson/{lesson.pk}/change/", sent).content.decode()
    assert "Nothing is kept yet" in page
    assert "<em>two</em>" in page
    assert "The link to /lesson/99999/ leads nowhere in this house." in page
    assert "3 words." in page
    lesson.refresh_from_db()
    assert lesson.text == "One two three."
    assert not Revision.objects.exists()


def test_every_text_is_kept_compared_and_brought_back(ines, arno, as_person, lesson):
    client = as_person(ines)
    change = f"/lesson/{lesson.pk}/change/"
    client.post(change, {"title": "Slices", "text": "One two four.", "topics": "a"})
    client.post(change, {"title": "Slices", "text": "One two four.", "topics": "a"})  # the same
    client.post(change, {"title": "Loaf", "text": "Five.", "topics": "a, b"})
    newest, middle, first = Revision.objects.of(lesson)
    assert [r.content["text"] for r in (newest, middle, first)] == [
        "Five.",
        "One two four.",
        "One two three.",
    ]
    assert [r.saved_by for r in (newest, middle, first)] == [ines, ines, None]
    listed = client.get(f"/lesson/{lesson.pk}/earlier/").content.decode()
    assert "Ines" in listed
    assert "as it was at first" in listed
    compared = client.get(f"/lesson/{lesson.pk}/earlier/{first.pk}/").content.decode()
    assert "<del>Slices</del><ins>Loaf</ins>" in compared
    assert as_person(arno).get(f"/lesson/{lesson.pk}/earlier/{first.pk}/").status_code == 404
    client.post(f"/lesson/{lesson.pk}/earlier/{first.pk}/")
    lesson.refresh_from_db()
    assert (lesson.title, lesson.text, lesson.topics) == ("Slices", "One two three.", ["a"])
    assert Revision.objects.of(lesson).count() == 4  # what was replaced is still there


def test_a_week_is_seen_first_kept_compared_and_brought_back(ines, arno, as_person, week):
    client = as_person(ines)
    change = f"/week/{week.pk}/change/"
    sent = {"title": "Light", "aim": "Sees the shadow side.", "problems": "*Flat* light."}
    page = client.post(change, sent | {"preview": "yes"}).content.decode()
    assert "Nothing is kept yet" in page
    assert "<em>Flat</em>" in page
    week.refresh_from_db()
    former = week.title
    assert not Revision.objects.exists()
    client.post(change, sent)
    newest, first = Revision.objects.of(week)
    assert (newest.content["aim"], newest.saved_by) == ("Sees the shadow side.", ines)
    compared = client.get(f"/week/{week.pk}/earlier/{first.pk}/").content.decode()
    assert "<ins>Sees the shadow side.</ins>" in compared
    assert as_person(arno).get(f"/week/{week.pk}/earlier/").status_code == 404
    back = client.post(f"/week/{week.pk}/earlier/{first.pk}/")
    assert back.url.endswith(f"/course/{week.course_id}/#week-{week.pk}")
    week.refresh_from_db()
    assert (week.title, week.aim) == (former, "")


def test_a_new_week_follows_the_last(ines, as_person, week):
    as_person(ines).post(f"/course/{week.course_id}/week/", {"title": "The next"})
    assert week.course.weeks.last().number == week.number + 1


def test_an_exercise_comes_back_with_the_rows_of_its_brief(ines, as_person, exercise):
    Criterion.objects.create(exercise=exercise, kind="need", need="tripod")
    client = as_person(ines)
    row = exercise.criteria.get()
    sent = ROWS | {
        "row-INITIAL_FORMS": "1",
        "row-0-id": row.pk,
        "row-0-asks": "n:manual focus",
        "title": "Another",
        "kind": "stack",
    }
    client.post(f"/exercise/{exercise.pk}/change/", sent)
    exercise.refresh_from_db()
    assert (exercise.title, exercise.criteria.get().need) == ("Another", "manual focus")
    first = Revision.objects.of(exercise).last()
    page = client.get(f"/exercise/{exercise.pk}/earlier/{first.pk}/").content.decode()
    assert "<del>tripod</del>" in page
    client.post(f"/exercise/{exercise.pk}/earlier/{first.pk}/")
    exercise.refresh_from_db()
    assert (exercise.title, exercise.kind, exercise.criteria.get().need) == (
        "A seed head",
        "single",
        "tripod",
    )


def test_a_save_that_changed_nothing_shows_no_change(ines, as_person, week):
    """A browser sends its lines with CR LF, and topics come as they were written."""
    lesson = Lesson.objects.create(week=week, title="S", text="One\n\ntwo", topics=["b", "a"])
    sent = {"title": "S", "text": "One\r\n\r\ntwo", "topics": "b, a"}
    as_person(ines).post(f"/lesson/{lesson.pk}/change/", sent)
    lesson.refresh_from_db()
    assert (lesson.text, lesson.topics) == ("One\n\ntwo", ["b", "a"])
    assert Revision.objects.of(lesson).count() == 1


def test_a_revision_of_another_page_does_not_come_back(ines, as_person, lesson, week):
    other = Lesson.objects.create(week=week, title="Other")
    Revision.objects.keep(other, by=ines)
    stranger = Revision.objects.of(other).get()
    assert as_person(ines).get(f"/lesson/{lesson.pk}/earlier/{stranger.pk}/").status_code == 404


def test_an_exercise_is_seen_with_its_rows(ines, as_person, exercise):
    sent = ROWS | {
        "title": "A seed head",
        "kind": "single",
        "text": "Whole.",
        "row-0-asks": "q:magnification",
        "row-0-low": "0.4",
        "preview": "yes",
    }
    page = as_person(ines).post(f"/exercise/{exercise.pk}/change/", sent).content.decode()
    assert re.search(r"<li>Magnification:? 0.40 or more</li>", page)
    assert not exercise.criteria.exists()


def test_lessons_and_exercises_change_places_and_weeks(ines, as_person, week, course):
    client = as_person(ines)
    for title in ("One", "Two", "Three"):
        client.post(f"/week/{week.pk}/lesson/", {"title": title})
    three = Lesson.objects.get(title="Three")
    client.post(f"/lesson/{three.pk}/move/", {"up": ""})
    assert [p.title for p in week.lessons.all()] == ["One", "Three", "Two"]
    for _ in range(3):
        client.post(f"/lesson/{three.pk}/move/", {"down": ""})
    assert [p.title for p in week.lessons.all()] == ["One", "Two", "Three"]
    later = Week.objects.create(course=course, number=2, title="Later")
    client.post(f"/lesson/{three.pk}/change/", {"title": "Three", "week": later.pk})
    assert [p.title for p in later.lessons.all()] == ["Three"]
    exercises = [Exercise.objects.create(week=week, title=t, position=0) for t in "ab"]
    client.post(f"/exercise/{exercises[1].pk}/move/", {"up": ""})
    assert [p.title for p in week.exercises.all()] == ["b", "a"]


def test_what_is_hidden_opens_when_the_group_reaches_its_week(
    sam, ines, as_person, group, course, week
):
    later = Week.objects.create(course=course, number=3, title="Later", hidden=True)
    lesson = Lesson.objects.create(week=later, title="Slices")
    exercise = Exercise.objects.create(week=week, title="Now", hidden=True)
    other = Exercise.objects.create(week=later, title="Open", hidden=False)
    student = as_person(sam)
    assert student.get(f"/lesson/{lesson.pk}/").status_code == 404
    assert student.get(f"/exercise/{other.pk}/").status_code == 404
    assert student.get(f"/exercise/{exercise.pk}/").status_code == 200  # week one is now
    assert as_person(ines).get(f"/lesson/{lesson.pk}/").status_code == 200
    group.week_now = 3
    group.save()
    assert student.get(f"/lesson/{lesson.pk}/").status_code == 200
    assert student.get(f"/exercise/{other.pk}/").status_code == 200


def test_a_student_finds_every_lesson_from_the_first_page(
    sam, otto, as_person, group, course, week, lesson, exercise, django_assert_max_num_queries
):
    later = Week.objects.create(course=course, number=2, title="Later", hidden=True)
    Lesson.objects.create(week=later, title="Hidden one")
    student = as_person(sam)
    first = student.get("/this-week/").content.decode()
    assert f'href="/lesson/{lesson.pk}/">Slices</a>' in first
    assert f'href="/course/{course.pk}/weeks/"' in first
    with django_assert_max_num_queries(12):
        page = student.get(f"/course/{course.pk}/weeks/").content.decode()
    assert f'href="/lesson/{lesson.pk}/"' in page
    assert f'href="/exercise/{exercise.pk}/"' in page
    assert "Hidden one" not in page
    assert "Later" not in page
    assert as_person(otto).get(f"/course/{course.pk}/weeks/").status_code == 404
    read = student.get(f"/exercise/{exercise.pk}/").content.decode()
    assert "Read first:" in read


@pytest.mark.parametrize("who", ["ines", "sam"])
def test_the_way_back_leads_to_the_week_of_the_page(
    request, as_person, other_course, lesson, exercise, who
):
    """Who writes the course comes back to where it is written, who takes it to where it is read."""
    Week.objects.create(course=other_course, number=1)  # a week's number is not its key
    late = Week.objects.create(course=lesson.week.course, number=2, title="Late")
    Lesson.objects.filter(pk=lesson.pk).update(week=late)
    Exercise.objects.filter(pk=exercise.pk).update(week=late)
    lesson.week.course.groups.update(week_now=2)
    client = as_person(request.getfixturevalue(who))
    for path in (f"/lesson/{lesson.pk}/", f"/exercise/{exercise.pk}/"):
        back = re.search(r'<p class="back"><a href="([^"#]+)#([^"]+)">', client.get(path).text)
        assert back[1].endswith("/weeks/") == (who == "sam")
        assert f'id="{back[2]}"><h2>Week 2: Late' in client.get(back[1]).text


def test_a_group_ahead_opens_nothing_for_another(make_person, sam, as_person, group, course):
    """Two groups of one course: what one has reached stays hidden for the other."""
    from course.models import Enrolment, Group

    ahead = Group.objects.create(course=course, name="Ahead", week_now=3)
    late = make_person("lena")
    Enrolment.objects.create(group=ahead, user=late)
    week = Week.objects.create(course=course, number=3, title="Later")
    lesson = Lesson.objects.create(week=week, title="Slices", hidden=True)
    assert as_person(late).get(f"/lesson/{lesson.pk}/").status_code == 200
    assert as_person(sam).get(f"/lesson/{lesson.pk}/").status_code == 404


# --- words explained ---


def test_a_word_is_linked_once_to_its_meaning_and_never_inside_a_link_or_heading():
    words = read_glossary(
        "stop, stops: a step of light\nfocus ring: turns\nfocus: where it is sharp"
    )
    html, used = with_words(
        "# A stop\n\n[stop](/x/) Two stops, one stop. The focus ring and the *focus*.", "/c/", words
    )
    assert "<h2>A stop</h2>" in html
    assert html.count('class="word"') == 3
    assert '<a href="#word-stop" id="said-word-stop" class="word"' in html
    assert [word.term for word in used] == ["stop", "focus ring", "focus"]


@pytest.mark.parametrize("text", ["stopping", "non-stop", "f-stop's", "bus stop-watch"])
def test_part_of_a_longer_word_is_another_word(text):
    assert with_words(text, "/", read_glossary("stop: x"))[1] == []


def test_a_line_without_a_meaning_is_named(ines, as_person, course):
    assert lines_amiss("stop: x\n\nnothing here") == ["nothing here"]
    sent = {"title": "Small worlds", "glossary": "stop: x\nnothing here"}
    page = as_person(ines).post(f"/course/{course.pk}/change/", sent).content.decode()
    assert "“nothing here” has no colon" in page


def test_a_lesson_opens_its_words_without_a_script(sam, as_person, course, lesson):
    course.glossary = "three: one more than two & less than four"
    course.save()
    page = as_person(sam).get(f"/lesson/{lesson.pk}/").content.decode()
    assert 'href="#word-three"' in page
    assert 'id="word-three"' in page
    assert "one more than two &amp; less than four" in page
    assert 'href="#said-word-three"' in page


# --- what is left out ---


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("<script>alert(1)</script>", "HTML is left out: <script>"),
        ("a <b onclick=x>b</b>", "HTML is left out: <b onclick=x>"),
        ("![x](https://far.example/x.png)", "https://far.example/x.png is left out"),
        ("![x](//far.example/x.png)", "//far.example/x.png is left out"),
        ("![x](pictures/none.svg)", "pictures/none.svg is not among the pictures"),
        ("[x](javascript:alert)", "A link to javascript: is left out."),
        ("[x](  data:text/html,x)", "A link to data: is left out."),
        ("[x](/nowhere/)", "The link to /nowhere/ leads nowhere"),
        ("[x]()", "A link leads nowhere: its address is empty."),
    ],
)
def test_what_does_not_reach_the_page_is_said(text, says):
    (said,) = left_out(text, ["pictures/a.svg"], lambda path: False)[:1]
    assert says in said
    html = to_html(text)
    assert not any(trap in html for trap in ("<script", "onclick", "far.example", 'javascript:"'))


def test_what_reaches_the_page_is_not_complained_of():
    text = "![x](pictures/a.svg) [a](/lesson/1/) [b](https://x.example/) [c](#d) 2 < 3 f/8 <3"
    assert left_out(text, ["pictures/a.svg"], lambda path: True) == []


# --- comparing ---


def test_word_by_word_says_what_went_and_what_came():
    parts = list(word_by_word("one two three", "one 2 three four"))
    assert [(p.what, p.text) for p in parts] == [
        ("same", "one "),
        ("gone", "two"),
        ("new", "2"),
        ("same", " three"),
        ("new", " four"),
    ]
    assert "".join(p.text for p in parts if p.what != "new") == "one two three"


def test_only_what_differs_is_shown():
    then = {"title": "A", "hidden": False, "criteria": [{"need": "tripod"}]}
    now = {"title": "A", "hidden": True, "criteria": [{"quantity": "count", "low": 3.0}]}
    assert [c.name for c in changes(then, now)] == ["The brief in rows", "Hidden until taught"]


def test_a_long_text_is_shown_where_it_changed():
    long = " ".join(f"word{k}" for k in range(400))
    (change,) = changes({"text": f"{long} red {long}"}, {"text": f"{long} blue {long}"})
    shown = "".join(part.text for part in change.parts)
    assert "word399 red" in shown.replace("blue", "")
    assert len(shown) < 500
    assert shown.count("[ … ]") == 2


# --- pictures ---


def test_a_picture_goes_in_by_what_it_is_and_out_again(ines, arno, as_person, course):
    from django.core.files.uploadedfile import SimpleUploadedFile

    client = as_person(ines)
    path = f"/course/{course.pk}/pictures/"
    drawn = SimpleUploadedFile("My Drawing_2.jpg", b"<svg xmlns='x'><title>t</title></svg>")
    page = client.post(path, {"picture": drawn}, follow=True).content.decode()
    assert "![what it shows](pictures/my-drawing-2.svg)" in page
    answer = client.get(f"{path}my-drawing-2.svg")
    assert answer["Content-Type"] == "image/svg+xml"
    assert "sandbox" in answer["Content-Security-Policy"]
    strange = SimpleUploadedFile("x.png", b"MZ\x90\0")
    assert "is no SVG, JPEG or PNG" in client.post(path, {"picture": strange}).content.decode()
    assert as_person(arno).get(path).status_code == 404
    picture = course.pictures.get()
    client.post(f"{path}{picture.pk}/out/")
    assert not course.pictures.exists()

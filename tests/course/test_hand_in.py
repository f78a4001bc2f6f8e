"""Handing in, and what a student sees of it when."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from course.models import Enrolment, Exercise, Group, HandIn, Lesson, Week
from shootlog.models import Flag, Frame
from tests.frames import jpeg

pytestmark = pytest.mark.django_db


def address(exercise):
    return reverse("course:hand-in", args=[exercise.pk])


def test_a_frame_from_the_log_is_handed_in_with_two_lines(
    as_person, sam, exercise, group, make_frame
):
    frame = make_frame(sam)
    answer = as_person(sam).post(
        address(exercise), {"frames": [frame.pk], "wanted": "The hairs.", "unsure": "The light."}
    )
    row = HandIn.objects.get()
    assert answer.url == reverse("course:came-back", args=[row.pk])
    assert (row.student, row.group, row.wanted, row.unsure) == (
        sam,
        group,
        "The hairs.",
        "The light.",
    )
    assert row.frames_in_order() == [frame]


def test_a_file_sent_with_the_form_is_kept_and_handed_in(as_person, sam, exercise):
    file = SimpleUploadedFile("a.jpg", jpeg())
    as_person(sam).post(address(exercise), {"files": [file]})
    frame = HandIn.objects.get().frames.get()
    assert frame.owner == sam
    assert frame.sent_name == "a.jpg"


def test_a_refused_file_is_named_and_the_rest_goes_in(as_person, sam, exercise):
    files = [SimpleUploadedFile("a.jpg", jpeg()), SimpleUploadedFile("b.txt", b"no picture")]
    page = as_person(sam).post(address(exercise), {"files": files}, follow=True)
    assert "b.txt" in page.text
    assert HandIn.objects.get().frames.count() == 1


def test_nothing_ticked_is_asked_for_in_words(as_person, sam, exercise):
    page = as_person(sam).post(address(exercise), {"wanted": "The hairs."})
    assert "one is enough" in page.text
    assert "The hairs." in page.text  # what was typed is not lost
    assert not HandIn.objects.exists()


def test_the_same_form_sent_twice_is_one_hand_in(as_person, sam, exercise, make_frame):
    client, data = as_person(sam), {"frames": [make_frame(sam).pk]}
    first, second = (client.post(address(exercise), data).url for _ in range(2))
    assert first == second
    assert HandIn.objects.count() == 1


def test_the_same_frames_with_other_words_are_lost_neither_before_nor_after_an_answer(
    as_person, ines, sam, exercise, make_frame
):
    """Gone back to say it better: it stands there, or as a hand-in of its own once answered."""
    client, data = as_person(sam), {"frames": [make_frame(sam).pk], "wanted": "The hairs."}
    client.post(address(exercise), data)
    client.post(address(exercise), data | {"wanted": "The hairs, against the light."})
    row = HandIn.objects.get()
    assert row.wanted == "The hairs, against the light."
    row.keep(by=ines)
    client.post(address(exercise), data | {"wanted": "The hairs, against the light."})
    assert HandIn.objects.get() == row
    client.post(address(exercise), data | {"unsure": "Closer?"})
    assert HandIn.objects.latest("pk").unsure == "Closer?"
    row.refresh_from_db()
    assert (row.wanted, row.unsure) == ("The hairs, against the light.", "")


def test_nobody_hands_in_someone_elses_frame(as_person, sam, noor, exercise, make_frame):
    as_person(sam).post(address(exercise), {"frames": [make_frame(noor).pk]})
    assert not HandIn.objects.exists()


def test_an_exercise_of_another_course_is_not_there(as_person, sam, otto, other_course):
    week = Week.objects.create(course=other_course, number=1, title="Elsewhere")
    exercise = Exercise.objects.create(week=week, title="Elsewhere")
    for person in (sam, otto):
        assert as_person(person).get(address(exercise)).status_code == 404


def test_a_series_is_put_together_in_the_order_taken(as_person, sam, exercise, make_frame):
    from datetime import UTC, datetime

    Exercise.objects.update(kind="stack")
    later, first = (
        make_frame(sam, taken_at=datetime(2026, 5, 3, 9, minute, tzinfo=UTC)) for minute in (20, 10)
    )
    as_person(sam).post(address(exercise), {"frames": [later.pk, first.pk]})
    row = HandIn.objects.get()
    assert row.frames_in_order() == [first, later]
    assert [place.frame for place in row.series.places.all()] == [first, later]


def test_the_field_asks_three_ticks_and_keeps_them(as_person, sam, exercise, make_frame):
    Exercise.objects.update(in_the_field=True)
    data = {"frames": [make_frame(sam).pk], "nothing_moved": "on"}
    as_person(sam).post(address(exercise), data)
    assert HandIn.objects.get().welfare == {
        "nothing_moved": True, "left_as_found": False, "site_rules": False,
    }  # fmt: skip


def test_a_reshoot_knows_what_it_is_a_reshoot_of(
    as_person, sam, noor, ines, exercise, hand_in, make_frame
):
    first = hand_in(sam)
    first.ask_reshoot(by=ines, one_thing="The same at f/8.")
    first.release(by=ines)
    client = as_person(sam)
    page = client.get(address(exercise), {"reshoot_of": first.pk})
    assert "The same at f/8." in page.text
    client.post(address(exercise), {"frames": [make_frame(sam).pk], "reshoot_of": first.pk})
    assert HandIn.objects.latest("pk").reshoot_of == first
    data = {"frames": [make_frame(noor).pk], "reshoot_of": first.pk}
    assert as_person(noor).post(address(exercise), data).status_code == 404


def diffracted(make_frame, owner, **columns):
    """Marked f/22 at life-size: the finding fires by its own sample."""
    from shootlog.findings import all_findings

    reading = all_findings()["diffraction"].fires_on
    frame = make_frame(owner, flags=["diffraction"], **columns)
    Frame.objects.filter(pk=frame.pk).update(reading=reading.as_json())
    frame.refresh_from_db()
    return frame


def words_of(frame, slug="diffraction"):
    from shootlog.findings import examine

    return next(o.words for o in examine(frame.what_was_read) if o.finding == slug)


def see(client, row):
    import html

    return html.unescape(client.get(reverse("course:came-back", args=[row.pk])).text)


def test_numbers_are_there_at_once_and_advice_after_release(
    as_person, ines, sam, hand_in, make_frame
):
    frame = diffracted(make_frame, sam)
    row = hand_in(sam, frames=[frame])
    client = as_person(sam)
    assert "Magnification" in see(client, row)
    assert words_of(frame) not in see(client, row)
    row.keep(by=ines)
    row.release(by=ines)
    assert words_of(frame) in see(client, row)


def test_a_course_may_give_advice_at_once(as_person, sam, course, hand_in, make_frame):
    course.advice_at_once = True
    course.save()
    frame = diffracted(make_frame, sam)
    assert words_of(frame) in see(as_person(sam), hand_in(sam, frames=[frame]))


def released(row, ines):
    row.keep(by=ines)
    row.release(by=ines)
    return row


def test_a_topic_of_a_later_week_is_held_for_the_instructor(
    as_person, ines, sam, course, week, hand_in, make_frame
):
    later = Week.objects.create(course=course, number=5, title="Later")
    frame = diffracted(make_frame, sam)
    from shootlog.findings import all_findings

    Lesson.objects.create(week=later, title="x", topics=[all_findings()["diffraction"].topic])
    row = released(hand_in(sam, frames=[frame]), ines)
    assert words_of(frame) not in see(as_person(sam), row)
    import html

    page = html.unescape(as_person(ines).get(reverse("course:look", args=[row.pk])).text)
    assert "Held for you" in page
    assert words_of(frame) in page


def test_the_instructor_may_say_first_what_was_held(
    as_person, ines, sam, course, hand_in, make_frame
):
    later = Week.objects.create(course=course, number=5, title="Later")
    Lesson.objects.create(week=later, title="x", topics=["diffraction"])
    frame = diffracted(make_frame, sam)
    row = released(hand_in(sam, frames=[frame]), ines)
    as_person(ines).post(reverse("course:say-first", args=[row.pk, "diffraction"]))
    assert words_of(frame) in see(as_person(sam), row)


def test_what_was_set_aside_is_not_said(as_person, ines, sam, hand_in, make_frame):
    frame = diffracted(make_frame, sam)
    row = released(hand_in(sam, frames=[frame]), ines)
    frame.flags.get().set_aside(by=ines)
    assert words_of(frame) not in see(as_person(sam), row)


def test_a_finding_often_set_aside_falls_silent_for_students(
    as_person, ines, sam, hand_in, make_frame
):
    for k in range(10):
        old = make_frame(sam, flags=["diffraction"]).flags.get()
        Flag.objects.filter(pk=old.pk).look()
        if k < 4:  # six of ten stand: under seven in ten
            old.set_aside(by=ines)
    assert Flag.objects.silent() == {"diffraction"}
    frame = diffracted(make_frame, sam)
    row = released(hand_in(sam, frames=[frame]), ines)
    assert words_of(frame) not in see(as_person(sam), row)


def test_a_waived_finding_is_not_raised_for_this_exercise(
    as_person, ines, sam, exercise, hand_in, make_frame
):
    exercise.waived = ["diffraction"]
    exercise.save()
    frame = diffracted(make_frame, sam)
    row = released(hand_in(sam, frames=[frame]), ines)
    assert words_of(frame) not in see(as_person(sam), row)


def test_said_three_times_is_not_said_again(as_person, ines, sam, hand_in, make_frame):
    for _ in range(3):
        row = released(hand_in(sam), ines)
        row.crits.update(points={"main": "diffraction"})
    frame = diffracted(make_frame, sam)
    row = released(hand_in(sam, frames=[frame]), ines)
    assert words_of(frame) not in see(as_person(sam), row)


def test_what_came_back_leads_to_where_one_says_what_should_be_sharp(
    as_person, ines, sam, hand_in, make_frame
):
    frame = diffracted(make_frame, sam)
    row = released(hand_in(sam, frames=[frame]), ines)
    place = f"{reverse('shootlog:frame', args=[frame.pk])}#sharp-place"
    assert f'href="{place}"' in see(as_person(sam), row)
    assert 'id="sharp-place"' in as_person(sam).get(place).text


def test_what_came_back_is_only_for_its_maker(as_person, sam, noor, ines, otto, hand_in):
    row = hand_in(sam)
    for person in (noor, ines, otto):
        answer = as_person(person).get(reverse("course:came-back", args=[row.pk]))
        assert answer.status_code == 404


def test_a_hand_in_can_be_taken_back_and_the_frame_stays(as_person, sam, hand_in):
    row = hand_in(sam)
    as_person(sam).post(reverse("course:withdraw", args=[row.pk]))
    row.refresh_from_db()
    assert row.withdrawn_at
    assert Frame.objects.count() == 1


def test_consent_can_be_given_and_taken_at_any_time(as_person, sam, hand_in):
    row = hand_in(sam)
    client = as_person(sam)
    client.post(reverse("course:share", args=[row.pk]), {"may_be_projected": "on"})
    row.refresh_from_db()
    assert (row.may_be_projected, row.shared_with_group) == (True, False)
    client.post(reverse("course:share", args=[row.pk]), {})
    row.refresh_from_db()
    assert row.may_be_projected is False


def test_the_brief_is_asked_once_everything_is_read(as_person, sam, asks_for, hand_in, make_frame):
    asks_for(quantity="magnification", low=0.4, high=0.6, words="between 0.4 and 0.6 life-size")
    frame = make_frame(sam, numbers={"magnification": (0.27, "told")}, state=Frame.State.WAITING)
    row = hand_in(sam, frames=[frame])
    client = as_person(sam)
    see(client, row)
    row.refresh_from_db()
    assert row.verdicts is None
    Frame.objects.update(state=Frame.State.READY)
    see(client, row)
    row.refresh_from_db()
    (verdict,) = row.verdicts
    assert verdict["verdict"] == "not yet"


def test_the_brief_is_asked_again_after_a_new_reading(
    as_person, sam, asks_for, hand_in, make_frame
):
    from django.utils import timezone

    from shootlog.reading import Quantity, Reading

    asks_for(quantity="magnification", low=0.4, high=0.6)
    frame = make_frame(sam, numbers={"magnification": (0.27, "told")})
    row = hand_in(sam, frames=[frame])
    HandIn.objects.all().judge()
    now = Reading(quantities={"magnification": Quantity.exactly(0.5, "measured")})
    Frame.objects.update(reading=now.as_json(), read_at=timezone.now())
    HandIn.objects.all().judge()
    row.refresh_from_db()
    assert row.verdicts[0]["verdict"] == "met"


def test_who_is_in_two_groups_of_a_course_hands_in_to_the_newest(as_person, sam, exercise, group):
    newest = Group.objects.create(course=group.course, name="Autumn group")
    left = Group.objects.create(course=group.course, name="Winter group")
    for one in (newest, left):
        Enrolment.objects.create(group=one, user=sam)
    Enrolment.objects.get(group=left).leave()
    as_person(sam).post(address(exercise), {"files": [SimpleUploadedFile("a.jpg", jpeg())]})
    assert HandIn.objects.get().group == newest

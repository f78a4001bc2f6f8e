"""To look at: the table, its order, its reasons, and who may sit at it."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from course.models import Exercise, Group, HandIn, Meeting
from course.needs import Need, reason
from shootlog.models import Flag, Frame, Series

pytestmark = pytest.mark.django_db


def on_the_table(user):
    return list(HandIn.objects.to_look_at(user))


def test_the_table_shows_what_students_of_ones_own_courses_handed_in(
    ines, arno, greta, sam, hand_in
):
    print_ = hand_in(sam)
    assert on_the_table(ines) == [print_]
    assert on_the_table(arno) == [print_]
    assert on_the_table(greta) == []
    assert on_the_table(sam) == []


def test_who_needs_a_person_most_comes_first(ines, sam, noor, hand_in, make_frame):
    nothing = hand_in(sam)
    flagged = hand_in(sam, frames=[make_frame(sam, flags=["diffraction"])])
    likely = hand_in(sam, frames=[make_frame(sam, flags=[("shake", "likely")])])
    stripped = hand_in(sam, frames=[make_frame(sam, flags=["stripped-file"])])
    unread = hand_in(sam, frames=[make_frame(sam, state=Frame.State.WAITING)])
    broken = hand_in(sam, frames=[make_frame(sam, state=Frame.State.UNREADABLE)])
    again = hand_in(sam, reshoot_of=nothing)
    asks = hand_in(noor, unsure="the background")
    cannot = hand_in(noor)
    HandIn.objects.filter(pk=cannot.pk).update(cannot_tell=True)
    said = hand_in(noor)
    said.keep(by=ines)
    assert on_the_table(ines) == [
        asks, again, broken, stripped, cannot, likely, flagged, nothing, unread, said,
    ]  # fmt: skip


def test_whoever_was_not_answered_by_the_last_class_comes_before_all(
    ines, sam, noor, group, hand_in
):
    hand_in(noor, unsure="the light")
    hours = timezone.now() - timedelta(hours=30)
    old = hand_in(sam, handed_in_at=hours)
    Meeting.objects.create(
        group=group, starts_at=hours + timedelta(hours=2), ends_at=hours + timedelta(hours=4)
    )
    first = on_the_table(ines)[0]
    assert first == old
    assert first.need == Need.CLASS_PASSED


def test_a_decided_print_leaves_the_table_once_it_is_released(ines, sam, hand_in):
    print_ = hand_in(sam)
    print_.keep(by=ines)
    assert on_the_table(ines) == [print_]
    print_.release(by=ines)
    assert on_the_table(ines) == []


def test_what_was_taken_back_is_not_on_the_table(ines, sam, hand_in):
    hand_in(sam).withdraw()
    assert on_the_table(ines) == []


def test_a_finding_set_aside_is_no_reason_any_more(ines, sam, hand_in, make_frame):
    frame = make_frame(sam, flags=["diffraction"])
    hand_in(sam, frames=[frame])
    assert on_the_table(ines)[0].need == Need.FLAGGED
    frame.flags.get().set_aside(by=ines)
    assert on_the_table(ines)[0].need == Need.A_WORD


def test_every_need_has_a_sentence():
    for need in Need:
        words = reason(need, unsure="the light", file_name="a.jpg", questions=["manual focus"])
        assert words.endswith((".", "”"))
    # by the verdict's own words
    assert reason(Need.CANNOT_TELL, questions=["focus"]) == "Can't tell from the file: focus."


def test_the_reason_names_what_was_found(ines, sam, hand_in, make_frame):
    hand_in(sam, frames=[make_frame(sam, flags=["diffraction"])])
    (row,) = HandIn.objects.to_look_at(ines).for_table()
    assert row.reason.startswith("Found: ")
    assert "diffraction" in row.reason


def test_the_table_narrows_by_everything_it_offers(
    as_person, ines, sam, noor, course, group, week, hand_in, make_frame
):
    """Group, exercise, student, finding, 'nothing said yet', and two of them together."""
    other = Exercise.objects.create(week=week, title="A shell")
    autumn = Group.objects.create(course=course, name="Autumn group")
    flagged = hand_in(sam, frames=[make_frame(sam, flags=["diffraction"])])
    elsewhere = hand_in(noor, group=autumn)
    shell = hand_in(noor, exercise=other)
    said = hand_in(sam)
    said.keep(by=ines)
    begun = hand_in(noor)
    begun.crit_by(ines).save_said(revision=0, words="Held.")  # written, not decided
    marked = hand_in(noor)
    marked.crit_by(ines).save_said(revision=0, marks=[{"type": "Annotation"}])
    shell.crit_by(ines)  # opened, nothing written
    series = Series.objects.of_frames(owner=sam, kind="stack", frames=[make_frame(sam)])
    Flag.objects.create(series=series, finding="stack-gap", sure="measured")
    stack = hand_in(sam, series=series)
    client = as_person(ines)

    def narrowed(**chosen):
        return set(client.get(reverse("course:to-look-at"), chosen).context["table"].object_list)

    assert narrowed() == {flagged, elsewhere, shell, said, begun, marked, stack}
    assert narrowed(finding="diffraction") == {flagged}
    assert narrowed(finding="stack-gap") == {stack}
    assert narrowed(group=autumn.pk) == {elsewhere}
    assert narrowed(exercise=other.pk) == {shell}
    assert narrowed(student=sam.pk) == {flagged, said, stack}
    assert narrowed(nothing_said="on") == {flagged, elsewhere, shell, stack}
    assert narrowed(student=sam.pk, nothing_said="on") == {flagged, stack}
    assert narrowed(student=noor.pk, exercise=other.pk) == {shell}


def test_more_of_the_table_keeps_what_was_narrowed(as_person, ines, sam, hand_in, monkeypatch):
    monkeypatch.setattr("course.views.review.ON_THE_TABLE", 1)
    hand_in(sam), hand_in(sam)
    page = as_person(ines).get(reverse("course:to-look-at"), {"student": sam.pk})
    assert f"?student={sam.pk}&amp;table=2" in page.text


def test_an_empty_table_says_what_will_lie_there(as_person, ines):
    page = as_person(ines).get(reverse("course:to-look-at"))
    assert "The table is clear" in page.text


def test_queries_do_not_grow_with_the_prints(
    as_person, ines, sam, hand_in, make_frame, django_assert_num_queries
):
    client = as_person(ines)
    counts = []
    for more in (3, 12):
        for _ in range(more):
            hand_in(sam, frames=[make_frame(sam, flags=["diffraction", "shake"])])
        client.get(reverse("course:to-look-at"))  # judging is done once
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(
            connection,
        ) as asked:
            client.get(reverse("course:to-look-at"))
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_print_is_not_there_for_others(as_person, greta, sam, noor, otto, hand_in):
    address = reverse("course:look", args=[hand_in(sam).pk])
    for person in (greta, sam, noor, otto):
        assert as_person(person).get(address).status_code == 404


def test_one_print_leads_to_the_next_without_going_back(as_person, ines, sam, hand_in):
    prints = [hand_in(sam) for _ in range(3)]
    client = as_person(ines)
    client.get(reverse("course:to-look-at"))
    page = client.get(reverse("course:look", args=[prints[0].pk]))
    assert page.context["before"] is None
    assert page.context["after"] == prints[1].pk
    answer = client.post(
        reverse("course:decide", args=[prints[0].pk]),
        {"revision": page.context["crit"].revision, "words": "Held.", "decision": "kept"},
    )
    assert answer.url == reverse("course:look", args=[prints[1].pk])


def test_two_tables_open_at_once_are_two_walks(as_person, ines, sam, noor, hand_in):
    """Sam's prints in one tab, Noor's in the other: neither leads into the other's."""
    rows = [hand_in(student) for student in (sam, noor, sam, noor)]
    client, table = as_person(ines), reverse("course:to-look-at")
    for student in (sam, noor):
        client.get(table, {"student": student.pk})
    for one, following in ((rows[0], rows[2]), (rows[1], rows[3])):
        page = client.get(reverse("course:look", args=[one.pk]))
        assert (page.context["after"], page.context["of"]) == (following.pk, 2)


def test_opening_a_print_says_that_a_person_saw_it(as_person, ines, sam, hand_in):
    print_ = hand_in(sam)
    as_person(ines).get(reverse("course:look", args=[print_.pk]))
    print_.refresh_from_db()
    assert print_.seen_at is not None


def test_a_print_fetched_ahead_is_not_yet_seen(as_person, ines, sam, hand_in):
    print_ = hand_in(sam)
    as_person(ines).get(reverse("course:look", args=[print_.pk]), headers={"X-Fetched": "ahead"})
    print_.refresh_from_db()
    assert print_.seen_at is None


def test_many_get_the_same_answer_at_once(as_person, ines, greta, sam, hand_in):
    prints = [hand_in(sam) for _ in range(3)]
    data = {"hand_in": [p.pk for p in prints[:2]], "act": "talked"}
    as_person(greta).post(reverse("course:many"), data)
    assert set(HandIn.objects.values_list("state", flat=True)) == {"waiting"}
    as_person(ines).post(reverse("course:many"), data)
    assert [p.state for p in HandIn.objects.order_by("pk")] == [
        "talked through", "talked through", "waiting",
    ]  # fmt: skip


def test_releasing_a_set_releases_only_what_has_words(as_person, ines, sam, hand_in):
    said, silent = hand_in(sam), hand_in(sam)
    said.keep(by=ines)
    data = {"hand_in": [said.pk, silent.pk], "act": "release"}
    as_person(ines).post(reverse("course:many"), data)
    assert said.crits.get().is_released
    assert not silent.crits.filter(released_at__isnull=False).exists()


def test_how_we_know_is_for_those_who_review(as_person, ines, noor, sam, hand_in):
    print_ = hand_in(sam)
    address = reverse("course:print-how", args=[print_.pk, print_.first_frame.pk])
    assert as_person(ines).get(address).status_code == 200
    assert as_person(noor).get(address).status_code == 404


def test_pictures_of_a_hand_in_follow_who_may_see_it(
    as_person, ines, noor, otto, sam, hand_in, make_frame
):
    print_ = hand_in(sam, frames=[make_frame(sam, pictures=True)])
    other = make_frame(sam, pictures=True)
    address = reverse("course:print-screen", args=[print_.pk, print_.first_frame.pk])
    assert as_person(ines).get(address).status_code == 200
    assert as_person(noor).get(address).status_code == 404
    HandIn.objects.update(shared_with_group=True)
    assert as_person(noor).get(address).status_code == 200
    assert as_person(otto).get(address).status_code == 404
    elsewhere = reverse("course:print-screen", args=[print_.pk, other.pk])
    assert as_person(ines).get(elsewhere).status_code == 404

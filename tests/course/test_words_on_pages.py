"""No page of the loop uses a word that is never used (the list in `shootlog.wording`)."""

import html
import re

import pytest
from django.urls import reverse

from shootlog.wording import unwanted_words

pytestmark = pytest.mark.django_db


def words_on(page):
    text = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", page.text, flags=re.DOTALL)
    return html.unescape(text)


def test_no_unwanted_word_is_on_any_page(
    as_person, ines, sam, group, exercise, asks_for, hand_in, make_frame
):
    asks_for(quantity="magnification", low=0.4, high=0.6)
    frame = make_frame(
        sam, numbers={"magnification": (0.27, "told"), "f_number": 8}, flags=["diffraction"]
    )
    first = hand_in(sam, frames=[frame])
    first.ask_reshoot(by=ines, one_thing="One ring more.")
    first.release(by=ines)
    second = hand_in(sam, reshoot_of=first)
    of_sam = [
        ("shootlog:log", []),
        ("shootlog:frame", [frame.pk]),
        ("shootlog:how-we-know", [frame.pk]),
        ("shootlog:set-ups", []),
        ("shootlog:new-set-up", []),
        ("course:hand-in", [exercise.pk]),
        ("course:came-back", [first.pk]),
        ("course:pair", [second.pk]),
        ("course:exercise", [exercise.pk]),
        ("course:meetings", [group.pk]),
        ("course:card", [group.pk]),
        ("course:field-log", []),
        ("course:field-notes", []),
        ("course:plan", []),
        ("planning:what-if", []),
        ("planning:ladder", []),
        ("planning:stack", []),
        ("planning:landscape", []),
        ("planning:kit", []),
    ]
    of_ines = [
        ("course:to-look-at", []),
        ("course:look", [second.pk]),
        ("course:phrases", []),
        ("course:class-sheet", [group.pk]),
        ("course:projection", [group.pk]),
        ("course:courses", []),
        ("course:course", [group.course_id]),
        ("course:edit-course", [group.course_id]),
        ("course:pictures", [group.course_id]),
        ("course:new-lesson", [exercise.week_id]),
        ("course:edit-exercise", [exercise.pk]),
        ("course:earlier-exercise", [exercise.pk]),
        ("course:group", [group.pk]),
        ("course:new-meeting", [group.pk]),
    ]
    for person, pages in ((sam, of_sam), (ines, of_ines)):
        client = as_person(person)
        for name, args in pages:
            page = client.get(reverse(name, args=args))
            assert page.status_code == 200, name
            assert unwanted_words(words_on(page)) == [], name

"""Twelve people send frames while a reviewer writes: nobody is told that the database is locked.

Each person is a thread with a connection of its own, as a web process's threads have.
"""

import hashlib
import io
import threading

import pytest
from django.db import connection

from course.models import Crit
from shootlog.intake.receive import receive
from shootlog.models import Frame, Job
from tests.frames import jpeg
from tests.whole_house import furnish

PEOPLE, FRAMES_EACH, CRITS = 12, 5, 40


@pytest.mark.django_db(transaction=True)
def test_twelve_uploaders_and_a_reviewer(course, group, sam, ines, make_person):
    _, hand_in = furnish(course, group, sam, ines)
    people = [make_person(f"person{number}") for number in range(PEOPLE)]
    together = threading.Barrier(PEOPLE + 1)
    troubles, sent = [], []

    def at_once(act):
        def acted():
            try:
                together.wait()
                act()
            except Exception as trouble:  # a thread's own would go unheard
                troubles.append(trouble)
            finally:
                connection.close()

        return threading.Thread(target=acted)

    def send(person):
        for _ in range(FRAMES_EACH):
            data = jpeg()
            frame, _ = receive(io.BytesIO(data), owner=person, name="a.jpg")
            sent.append((frame.pk, hashlib.sha256(data).hexdigest()))

    def review():
        crit = Crit.objects.get(hand_in=hand_in, author=ines)
        for number in range(CRITS):
            crit.save_said(revision=crit.revision, words=f"{number}: closer.")

    threads = [at_once(lambda person=person: send(person)) for person in people]
    threads.append(at_once(review))
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert troubles == []
    assert dict(Frame.objects.filter(owner__in=people).values_list("pk", "sha256")) == dict(sent)
    assert len(sent) == PEOPLE * FRAMES_EACH
    assert Job.objects.count() == len(sent) + 1  # furnish has one frame waiting
    assert Crit.objects.get(hand_in=hand_in, author=ines).words == f"{CRITS - 1}: closer."

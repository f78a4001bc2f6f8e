"""Deleting a frame, or a person, with all that hangs on it; and what is honestly left."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.contrib.auth import get_user_model
from django.db import models, transaction
from django.utils.formats import date_format
from django.utils.timezone import localtime

from course.models import (
    AuditLine,
    Course,
    Crit,
    HandIn,
    Invitation,
    OpenSession,
    Person,
    Teaching,
)
from shootlog import backup_notes
from shootlog.models import Frame, Series
from shootlog.removal import forget_everything_of, forget_keys, forget_uploads, remove_frames

NAMELESS = "someone who left"


@transaction.atomic
def forget_frames(frames, *, by=None):
    """Delete frames; a hand-in or series that had no other goes with them. Return how many."""
    going = set(frames.values_list("pk", flat=True))
    chosen = Frame.objects.filter(pk__in=going)
    touched = list(HandIn.objects.filter(places__frame__in=chosen).values_list("pk", flat=True))
    series = list(Series.objects.filter(places__frame__in=chosen).values_list("pk", flat=True))
    gone = remove_frames(chosen)
    HandIn.objects.filter(pk__in=touched).forget_verdicts()
    _forget_hand_ins(HandIn.objects.filter(pk__in=touched, places=None))
    Crit.objects.filter(hand_in__in=touched).forget_marks_on(going)
    Series.objects.filter(pk__in=series, places=None).delete()
    if by is not None:
        AuditLine.objects.note("frame deleted", by=by)
    return gone


def _forget_hand_ins(hand_ins):
    crits = Crit.objects.filter(hand_in__in=hand_ins)
    voices = list(crits.exclude(voice_key="").values_list("voice_key", flat=True))
    hand_ins.delete()
    if voices:
        forget_keys.enqueue(voices)


def led_alone(user):
    """Courses nobody could change any more if this person left."""
    others = Teaching.objects.filter(role=Teaching.INSTRUCTOR).exclude(user=user)
    return Course.objects.led_by(user).exclude(pk__in=others.values("course"))


@transaction.atomic
def forget_person(user):
    """Delete a person with everything of theirs; return what remains, in words.

    What they said of other people's frames was given to those people and stays, said by nobody.
    Only then does a row without a name remain, since those words must hang on something.
    """
    remains = list(what_remains(user))
    _forget_hand_ins(HandIn.objects.filter(student=user))
    remove_frames(Frame.objects.owned_by(user))
    forget_uploads(user)
    own_voices = Crit.objects.filter(author=user).exclude(voice_key="")
    if own_voices:
        forget_keys.enqueue(list(own_voices.values_list("voice_key", flat=True)))
        own_voices.update(voice_key="")
    Invitation.objects.filter(taken_by=user).update(for_name="")
    OpenSession.objects.filter(user=user).end()
    forget_everything_of.enqueue(user.pk)
    AuditLine.objects.filter(about=user).update(about=None)
    AuditLine.objects.filter(by=user).update(by=None)
    if Crit.objects.filter(author=user).exists():
        _make_nameless(user)
    else:
        get_user_model().objects.filter(pk=user.pk).delete()
    AuditLine.objects.note("account deleted")
    return remains


def _make_nameless(user):
    """Delete every row that hangs on this person, of whatever table, but what they said."""
    for relation in get_user_model()._meta.related_objects:
        if relation.on_delete is models.CASCADE and relation.related_model is not Crit:
            relation.related_model.objects.filter(**{relation.field.name: user}).delete()
    Person.objects.create(user=user, display_name=NAMELESS)
    user.username = f"left-{user.pk}"
    user.first_name = user.last_name = user.email = ""
    user.is_active = user.is_staff = user.is_superuser = False
    user.last_login = None
    user.set_unusable_password()
    user.save()


def _backups_since(joined):
    for note in backup_notes.notes():
        made_at = datetime.fromisoformat(note["made_at"])
        if made_at > joined:
            yield (
                f"The backup {note['name']}, written on {date_format(localtime(made_at))}, if "
                "whoever runs the house still has it."
            )


def what_remains(user):
    """Say what deleting does not reach, so that nobody is told more than is true."""
    if Crit.objects.filter(author=user).exclude(hand_in__student=user).exists():
        yield (
            "What you said of other people's frames stays with them, without your name; your "
            "voice does not."
        )
    if Course.objects.led_by(user).exists():
        yield "Courses you wrote stay for the people in them, without your name."
    folder = settings.DATA / "kept"
    for copy in sorted(folder.glob("*.sqlite3")) if folder.is_dir() else []:
        yield (
            f"A copy of the tables made before an update, {copy.name}: whoever runs the house "
            "deletes it."
        )
    yield from _backups_since(user.date_joined)
    yield (
        "Copies of backups that lie elsewhere hold your frames until they are thrown away. Ask "
        "whoever runs the house when that is; a backup brought back must have you deleted again."
    )
    yield "Pictures that others have already saved, printed or were shown."

"""Everything a person has here, as one archive that any program can open: zip, JSON, SHA-256."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile

from django.core.serializers.json import DjangoJSONEncoder
from django.forms.models import model_to_dict

from course.models import AuditLine, Crit, Enrolment, HandIn, Person, Phrase, Teaching
from shootlog import store
from shootlog.models import Camera, FieldNote, Frame, KeptPlan, KeptSetUp, KitItem, Series

PIECE_BYTES = 1 << 20
NOT_IN_NAMES = '<>:"|?*/\\'
#: tables that go along row by row
OWN = {
    "set-ups.json": KeptSetUp,
    "cameras.json": Camera,
    "kit.json": KitItem,
    "plans.json": KeptPlan,
    "field-notes.json": FieldNote,
}
READ_ME = """Everything of yours from this house.

originals/       your files, byte for byte as they came, position and all: keep this archive safe
voices/          what was said to you in a voice
frames.json      per frame: notes, marks, set-up, what the camera wrote, the numbers worked out
series.json      which frames belong together
set-ups.json, cameras.json, kit.json, plans.json, field-notes.json, phrases.json
                 what you told of your gear, planned, noted outside, and say often
hand-ins.json    what you handed in, what the brief asked, and what was said of it
crits.json       what you said of other people's frames
account.json     your name, groups and courses, and what happened to your account
SHA256SUMS       the checksum of every file here; check it with: sha256sum -c SHA256SUMS
"""


class _Pipe(io.RawIOBase):
    """Takes what the archive writes and hands it on, so that no copy lies anywhere."""

    def __init__(self):
        self.waiting = []

    def writable(self):
        return True

    def write(self, piece):
        self.waiting.append(bytes(piece))
        return len(piece)

    def taken(self):
        pieces, self.waiting = self.waiting, []
        return b"".join(pieces)


def archive(user):
    """Yield the archive piece by piece; a missing file is named in the list, not passed over."""
    pipe, sums = _Pipe(), []
    with zipfile.ZipFile(pipe, "w", zipfile.ZIP_STORED, allowZip64=True) as made:
        for name, content in papers(user):
            _add(made, sums, name, content)
            yield pipe.taken()
        for name, key in files(user):
            yield from _add_file(made, sums, name, key, pipe)
        made.writestr("SHA256SUMS", "".join(sums))
    yield pipe.taken()


def _add(made, sums, name, content):
    made.writestr(name, content, zipfile.ZIP_DEFLATED)
    sums.append(f"{hashlib.sha256(content).hexdigest()}  {name}\n")


def _add_file(made, sums, name, key, pipe):
    try:
        source = store.store().open(key, "rb")
    except FileNotFoundError:
        words = f"{name} is missing from the store of this house. Tell whoever runs it.\n"
        _add(made, sums, f"{name}.missing.txt", words.encode())
        return
    digest = hashlib.sha256()
    with source, made.open(name, "w", force_zip64=True) as target:
        while piece := source.read(PIECE_BYTES):
            digest.update(piece)
            target.write(piece)
            yield pipe.taken()
    sums.append(f"{digest.hexdigest()}  {name}\n")


def files(user):
    """Name and key of every file that goes along."""
    for frame in Frame.objects.owned_by(user).in_time_order().iterator():
        yield f"originals/{_file_name(frame)}", frame.original_key
    voices = Crit.objects.released().filter(hand_in__student=user).exclude(voice_key="")
    for crit in voices.iterator():
        yield f"voices/{crit.pk}-{crit.voice_key.rsplit('/', 1)[-1]}", crit.voice_key


def _file_name(frame):
    name = "".join("_" if letter in NOT_IN_NAMES else letter for letter in frame.sent_name)
    return f"{frame.pk}-{name or 'frame'}"


def papers(user):
    yield "READ ME.txt", READ_ME.encode()
    yield "frames.json", _json(_frame(frame) for frame in Frame.objects.owned_by(user))
    yield "series.json", _json(_series(user))
    for name, model in OWN.items():
        yield name, _json(map(model_to_dict, model.objects.filter(owner=user)))
    yield "phrases.json", _json(map(model_to_dict, Phrase.objects.written_by(user)))
    yield "hand-ins.json", _json(_hand_ins(user))
    yield "crits.json", _json(map(_said, Crit.objects.written_by(user).select_related("hand_in")))
    yield "account.json", _json([_account(user)])


def _json(rows):
    return json.dumps(list(rows), cls=DjangoJSONEncoder, indent=1, ensure_ascii=False).encode()


def _frame(frame):
    row = model_to_dict(frame)
    del row["owner"]
    return row | {"received_at": frame.received_at, "file": f"originals/{_file_name(frame)}"}


def _series(user):
    for series in Series.objects.owned_by(user).prefetch_related("places"):
        row = model_to_dict(series, exclude=["frames", "owner"])
        yield row | {"frames": [place.frame_id for place in series.places.all()]}


def _hand_ins(user):
    rows = HandIn.objects.handed_in_by(user).select_related("exercise")
    for row in rows.prefetch_related("places", "crits__author__person"):
        plain = model_to_dict(row, exclude=["frames", "student", "state"])
        yield plain | {
            "exercise": row.exercise.title,
            "state": row.state_for_student,
            "frames": [place.frame_id for place in row.places.all()],
            "handed_in_at": row.handed_in_at,
            "crits": [_said(crit) | {"by": _name(crit.author)} for crit in row.released_crits],
        }


def _said(crit):
    """A crit's own words and marks; nothing that names whose frame it is about."""
    kept = ("words", "one_thing", "decision", "marks", "points", "voice_caption")
    return {name: getattr(crit, name) for name in kept} | {"said_at": crit.made_at}


def _name(user):
    person = getattr(user, "person", None)  # prefetched
    return person.display_name if person else user.get_username()


def _account(user):
    groups = Enrolment.objects.filter(user=user).select_related("group__course")
    taught = Teaching.objects.filter(user=user).select_related("course")
    person = Person.objects.filter(user=user).first()
    return {
        "name": user.get_username(),
        "joined_at": user.date_joined,
        "person": model_to_dict(person, exclude=["user"]) if person else {},
        "groups": [
            {"group": e.group.name, "course": e.group.course.title, "since": e.joined_at}
            for e in groups
        ],
        "teaches": [{"course": t.course.title, "as": t.role} for t in taught],
        "what_happened": [
            {"at": line.at, "what": line.words} for line in AuditLine.objects.concerning(user)
        ],
    }

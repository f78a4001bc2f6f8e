"""Everything the house hands out, to everyone it is handed to: no place, serial or hidden picture.

The frames tell all they can (`tests/test_privacy.py`). Every route of the table of routes is asked
as every role to whom it opens; each picture, each picture inside a PDF and each entry of an archive
is read with ExifTool, each page and each PDF's text is searched. A route added later is among them
by itself.
"""

import hashlib
import io
import shutil
import zipfile

import pypdf
import pytest

from shootlog.intake.receive import receive
from shootlog.models import Flag, Frame
from tests.test_privacy import SECRETS, exiftool, telling_file, traces  # noqa: F401 - a fixture
from tests.test_who_may_see_what import ask, lena, roles, things  # noqa: F401 - fixtures
from tests.who_may_see import ROUTES, expected

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(
        shutil.which("exiftool") is None,
        reason="ExifTool is not here; `manage.py test` installs it as root on Debian",
    ),
]
TOLD = (*SECRETS, "48.208", "16.373")  # and the position
#: what a PNG is; everything else in it is a trace
OF_A_PNG = {"ImageWidth", "ImageHeight", "BitDepth", "ColorType", "Compression", "Filter"}
OF_A_PNG |= {"Interlace", "Palette", "Transparency", "SignificantBits"}
A_CROP = "?x=100&y=80&w=300&h=200"
#: the owner's own: the original, and everything of theirs
OWN = {"shootlog:original", "course:take-everything"}


@pytest.fixture
def make_frame(telling_file, work):  # noqa: F811 - the fixture above
    """In place of the usual one: a real file, received and read."""
    data = telling_file.read_bytes()
    counted = iter(range(100))

    def make(owner, *, pictures=False, flags=(), **columns):
        bytes_ = data + next(counted).to_bytes(4, "big")
        frame, _ = receive(io.BytesIO(bytes_), owner=owner, name="DSC_0042.JPG")
        work()
        Frame.objects.filter(pk=frame.pk).update(**columns)
        frame.refresh_from_db()
        assert frame.recorded["has_position"] is True
        for finding in flags:
            Flag.objects.get_or_create(frame=frame, finding=finding, sure="told")
        return frame

    return make


class Seen:
    """What was handed out, each thing looked at once."""

    def __init__(self):
        self.done, self.count = set(), {"picture": 0, "pdf": 0, "archive": 0, "page": 0}

    def look(self, name, kind, data, *, own):
        """`own`: to its owner, who may read their own place and serials on their own pages."""
        digest = hashlib.sha256(data).digest()
        if (digest, own) in self.done:
            return
        self.done.add((digest, own))
        if kind.startswith("image/") and "svg" not in kind:
            self.picture(name, data)
        elif kind == "application/pdf":
            self.pdf(name, data, own=own)
        elif kind == "application/zip":
            self.archive(name, data)
        elif not own:
            self.count["page"] += 1
            assert [s for s in TOLD if s.encode() in data] == [], name

    def picture(self, name, data):
        if len(data) < 20:  # a stand-in of the test itself
            return
        self.count["picture"] += 1
        left = [t for t in traces(data) if not (t[:4] == "PNG:" and t[4:] in OF_A_PNG)]
        assert left == [], name
        assert [s for s in SECRETS if s.encode() in data] == [], name

    def pdf(self, name, data, *, own):
        self.count["pdf"] += 1
        told = exiftool("-j", "-G0:1", "-a", "-u", "-ee", "-", data=data).decode()
        assert [s for s in TOLD if s in told] == [], name
        for page in pypdf.PdfReader(io.BytesIO(data)).pages:
            if not own:
                words = page.extract_text()
                assert [s for s in TOLD if s in words] == [], name
            for image in page.images:
                if image.data.startswith(b"\xff\xd8"):
                    self.look(f"{name} {image.name}", "image/jpeg", image.data, own=own)

    def archive(self, name, data):
        self.count["archive"] += 1
        with zipfile.ZipFile(io.BytesIO(data)) as made:
            for entry in made.namelist():
                inside = made.read(entry)
                assert [s for s in SECRETS if s.encode() in inside] == [], (name, entry)
                assert not inside.startswith(b"\xff\xd8"), (name, entry)


@pytest.mark.slow
def test_nothing_handed_out_carries_a_trace(roles, things, make_frame):  # noqa: F811
    things.frames_of = make_frame
    things.day_shot = f"{things.frame.taken_at:%Y-%m-%d}"
    seen = Seen()
    for route, (_, method, _) in ROUTES.items():
        if method != "get":
            continue
        for role, opens in expected(route).items():
            if opens != "yes" or (route in OWN and role == "owner"):
                continue
            query = A_CROP if "crop" in route else ""
            answer = ask(route, roles[role], things, query)
            kind = answer.get("Content-Type", "").partition(";")[0]
            data = b"".join(answer) if answer.streaming else answer.content
            seen.look(f"{route} for {role}", kind, data, own=role == "owner")
    print(seen.count)
    assert seen.count["picture"] >= 6
    assert seen.count["pdf"] >= 5
    assert seen.count["archive"] >= 1
    assert seen.count["page"] >= 60

"""What others get of a frame holds no place, no serial number, no date and no hidden picture.

The independent reader is ExifTool (Debian's libimage-exiftool-perl): it writes the traces into a
file, and it looks for them in everything the house hands out.
"""

import hashlib
import io
import json
import shutil
import subprocess
import zipfile

import pytest
from PIL import Image

from course.belongings import archive
from shootlog import store
from shootlog.intake.receive import receive
from shootlog.privacy import place_for, recorded_for, taken_at_for
from tests.house import BASE

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(
        shutil.which("exiftool") is None,
        reason="ExifTool is not here; `manage.py test` installs it as root on Debian",
    ),
]
WITH_A_NOTE = BASE / ".." / "shared" / "frames" / "macro" / "Nikon_D60.jpg"
SECRETS = ("Secretwood", "SN-4711-SECRET", "Secret Owner", "6114551")  # the last: its note's serial
#: what a picture needs to be one; everything else is a trace
PLAIN = {
    "SourceFile",
    "ExifTool",
    "File",
    "Composite",
    "JFIF",
}


def exiftool(*arguments, data=None):
    return subprocess.run(
        ["exiftool", *arguments], input=data, capture_output=True, check=False
    ).stdout


@pytest.fixture
def telling_file(tmp_path):
    """A picture that tells all it can: Exif, XMP, IPTC, a thumbnail, a maker's note."""
    picture, thumbnail = tmp_path / "telling.jpg", tmp_path / "thumb.jpg"
    Image.effect_noise((900, 600), 60).convert("RGB").save(picture, quality=90)
    Image.new("RGB", (160, 120), (200, 30, 30)).save(thumbnail)
    if WITH_A_NOTE.exists():
        exiftool("-q", "-overwrite_original", "-TagsFromFile", WITH_A_NOTE, "-all:all",
                 "-makernotes", picture)  # fmt: skip
    exiftool(
        "-q",
        "-overwrite_original",
        "-GPSLatitude=48.20817",
        "-GPSLatitudeRef=N",
        "-GPSLongitude=16.37382",
        "-GPSLongitudeRef=E",
        "-EXIF:BodySerialNumber=SN-4711-SECRET",
        "-EXIF:OwnerName=Secret Owner",
        "-EXIF:DateTimeOriginal=2026:05:03 09:10:11",
        "-XMP:GPSLatitude=48.20817",
        "-XMP:GPSLongitude=16.37382",
        "-XMP:City=Secretwood",
        "-XMP-aux:SerialNumber=SN-4711-SECRET",
        "-IPTC:City=Secretwood",
        "-IPTC:Sub-location=Secretwood",
        "-Comment=Secretwood",
        f"-ThumbnailImage<={thumbnail}",
        picture,
    )
    told = json.loads(exiftool("-j", "-G1", picture))[0]
    groups = {key.partition(":")[0] for key in told}
    assert {"GPS", "XMP-exif", "IPTC", "ExifIFD", "IFD1"} <= groups  # the traces are there
    return picture


def traces(data):
    """Name every group of tags in these bytes that is more than the picture itself."""
    told = json.loads(exiftool("-j", "-G0:1", "-a", "-u", "-ee", "-", data=data))[0]
    return sorted(key for key in told if key.partition(":")[0] not in PLAIN)


@pytest.fixture
def frame(sam, telling_file, work):
    with telling_file.open("rb") as file:
        row, _ = receive(file, owner=sam, name="DSC_0001.JPG")
    work()
    row.refresh_from_db()
    assert row.state == "ready"
    assert row.recorded["has_position"] is True
    return row


@pytest.fixture
def hand_in(sam, frame, group, course):
    from course.models import Exercise, HandIn, Week

    week = Week.objects.create(course=course, number=1, title="Close")
    exercise = Exercise.objects.create(week=week, title="A pod")
    return HandIn.objects.hand_in(
        exercise=exercise, group=group, student=sam, frames=[frame], shared_with_group=True
    )


def test_what_others_get_carries_no_trace(as_person, frame, hand_in, noor, ines, sam):
    own = f"/log/{frame.pk}"
    shared = f"/print/{hand_in.pk}/{frame.pk}"
    asked = [(sam, f"{own}/screen.jpg"), (sam, f"{own}/thumb.jpg")]
    crops = ["?x=0&y=0&w=512&h=512", "?x=100&y=80&w=300&h=200"]  # a whole tile; put together
    asked += [(sam, f"{own}/crop{part}") for part in crops]
    for person in (noor, ines):
        asked += [(person, f"{shared}/screen.jpg"), (person, f"{shared}/thumb.jpg")]
        asked += [(person, f"{shared}/crop{part}") for part in crops]
    for person, path in asked:
        answer = as_person(person).get(path)
        assert answer.status_code == 200, path
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert traces(answer.content) == [], path
        assert not any(secret.encode() in answer.content for secret in SECRETS), path
        Image.open(io.BytesIO(answer.content)).verify()


def test_everything_in_the_store_but_the_original_carries_no_trace(as_person, frame, sam):
    as_person(sam).get(f"/log/{frame.pk}/crop?x=0&y=0&w=200&h=200")  # cuts all tiles
    keys = list(store.keys_under(frame.shown_key))
    assert len(keys) >= 5
    for key in keys:
        with store.store().open(key) as file:
            data = file.read()
        assert not any(secret.encode() in data for secret in SECRETS), key
        if key.endswith(".jpg"):
            assert traces(data) == [], key


def test_only_its_owner_gets_the_original_untouched(as_person, frame, hand_in, sam, ines, noor):
    for person in (ines, noor):
        assert as_person(person).get(f"/log/{frame.pk}/original").status_code == 404
        assert as_person(person).get(f"/print/{hand_in.pk}/{frame.pk}/original").status_code == 404
    answer = as_person(sam).get(f"/log/{frame.pk}/original")
    data = b"".join(answer.streaming_content)
    assert hashlib.sha256(data).hexdigest() == frame.sha256
    assert any(key.startswith("EXIF:GPS") for key in traces(data))
    assert answer["Content-Type"] == "application/octet-stream"
    assert answer["Content-Disposition"].startswith("attachment")
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_pages_of_others_say_no_serial_and_no_place(as_person, frame, hand_in, ines, noor):
    pages = [
        (ines, f"/to-look-at/{hand_in.pk}/"),
        (ines, f"/print/{hand_in.pk}/{frame.pk}/how-we-know/"),
        (ines, f"/class-sheet/{hand_in.group_id}/"),
        (ines, f"/projection/{hand_in.group_id}/"),
        (ines, "/to-look-at/"),
        (noor, "/this-week/"),
    ]
    for person, path in pages:
        answer = as_person(person).get(path)
        assert answer.status_code == 200, path
        text = answer.content.decode()
        assert not any(secret in text for secret in SECRETS), path
        assert "48.2" not in text, path


def test_a_courses_archive_holds_no_frame_of_anybody(as_person, frame, hand_in, ines, course):
    answer = as_person(ines).get(f"/course/{course.pk}/take-along/")
    data = b"".join(answer) if answer.streaming else answer.content
    with zipfile.ZipFile(io.BytesIO(data)) as made:
        for name in made.namelist():
            inside = made.read(name)
            assert not any(secret.encode() in inside for secret in SECRETS), name
            assert not inside.startswith(b"\xff\xd8"), name


def test_the_owners_archive_has_the_original_with_everything(frame, sam):
    with zipfile.ZipFile(io.BytesIO(b"".join(archive(sam)))) as made:
        original = made.read(f"originals/{frame.pk}-DSC_0001.JPG")
    assert hashlib.sha256(original).hexdigest() == frame.sha256


# --- a rare subject ---


def test_of_a_rare_subject_others_read_neither_place_nor_date(as_person, frame, hand_in, sam, ines):
    frame.sensitive_species, frame.place_words = True, "a wood west of the town"
    frame.save()
    page = as_person(ines).get(f"/print/{hand_in.pk}/{frame.pk}/how-we-know/").content.decode()
    assert "2026-05-03" not in page
    assert "DateTimeOriginal" not in page
    assert "2026-05-03" in as_person(sam).get(f"/log/{frame.pk}/how-we-know/").content.decode()
    told = recorded_for(frame, ines)
    assert (told["taken_at"], told["body_serial"]) == (None, None)
    assert place_for(frame, ines) == "kept back, to leave the subject in peace"
    assert taken_at_for(frame, ines) is None
    assert recorded_for(frame, sam)["taken_at"] == "2026-05-03T09:10:11"
    assert place_for(frame, sam) == "a wood west of the town"


def test_of_any_frame_others_are_told_the_vague_words_and_no_serial(frame, ines):
    frame.place_words = "a wood west of the town"
    assert place_for(frame, ines) == "a wood west of the town"
    assert recorded_for(frame, ines)["body_serial"] is None
    assert recorded_for(frame, ines)["taken_at"] == "2026-05-03T09:10:11"


def test_a_place_is_told_in_words_not_in_co_ordinates(as_person, frame, sam):
    page = f"/log/{frame.pk}/who-sees/"
    told = {"place_words": "48.20817, 16.37382", "people_in_it": ""}
    assert "looks like co-ordinates" in as_person(sam).post(page, told).content.decode()
    assert as_person(sam).post(page, told | {"place_words": "the west wood"}).status_code == 302
    frame.refresh_from_db()
    assert frame.place_words == "the west wood"


# --- people in the picture ---


def test_a_frame_with_somebody_not_asked_is_not_for_the_group(
    as_person, frame, hand_in, sam, noor, ines
):
    hand_in.may_be_projected = True
    hand_in.save()
    picture = f"/print/{hand_in.pk}/{frame.pk}/screen.jpg"
    assert as_person(noor).get(picture).status_code == 200
    assert picture in as_person(ines).get(f"/projection/{hand_in.group_id}/").content.decode()
    as_person(sam).post(f"/log/{frame.pk}/who-sees/", {"people_in_it": "not asked"})
    assert as_person(noor).get(picture).status_code == 404
    assert picture not in as_person(ines).get(f"/projection/{hand_in.group_id}/").content.decode()
    assert as_person(ines).get(picture).status_code == 200

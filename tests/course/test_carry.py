"""A course carried in and out: the same course again, or nothing at all."""

import io
import random
import zipfile
from dataclasses import replace

import pytest

from course import carry
from course.archive import read_archive
from course.course_text import ArchiveTrouble, CourseText, CriterionText, ExerciseText, WeekText
from course.models import Course, Criterion, Exercise, Week

DRAWING = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
TEXT = CourseText(
    title="Small things",
    weeks=[
        WeekText(
            title="One",
            exercises=[
                ExerciseText(
                    title="Life-size",
                    text="![a tube](pictures/tube.svg)",
                    subject_depth_mm=8.0,
                    criteria=[CriterionText(kind="quantity", quantity="magnification", low=0.9)],
                )
            ],
        )
    ],
    pictures={"pictures/tube.svg": DRAWING},
)


def zipped(files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    out.seek(0)
    return out


def test_a_course_comes_back_the_same_from_its_archive(ines):
    course = carry.load(TEXT, owner=ines)
    assert carry.as_text(course) == TEXT
    again = carry.load_files(carry.files_of_zip(io.BytesIO(carry.to_zip(TEXT))), owner=ines)
    assert carry.as_text(again) == TEXT
    assert Criterion.objects.count() == 2


def test_a_copy_for_a_new_group_leaves_the_first_alone(client, ines):
    course = carry.load(TEXT, owner=ines)
    client.force_login(ines)
    client.post(f"/course/{course.pk}/copy/")
    Exercise.objects.filter(week__course=course).update(title="Changed")
    twin = Course.objects.order_by("pk").last()
    assert carry.as_text(twin) == TEXT


def test_a_drawing_is_shown_to_the_course_and_may_only_draw(client, ines, otto):
    course = carry.load(TEXT, owner=ines)
    client.force_login(ines)
    exercise = Exercise.objects.get()
    address = f"/course/{course.pk}/pictures/tube.svg"
    assert f'src="{address}"' in client.get(f"/exercise/{exercise.pk}/").content.decode()
    shown = client.get(address)
    assert shown.content == DRAWING
    assert "sandbox" in shown["Content-Security-Policy"]
    assert "script-src" not in shown["Content-Security-Policy"]
    client.force_login(otto)
    assert client.get(address).status_code == 404


@pytest.mark.parametrize(
    ("stream", "says"),
    [
        (io.BytesIO(b"hello"), "no zip archive"),
        (zipped({"course.toml": b"format = 1\ntitle = 'x'", "run.exe": b""}), "run.exe"),
        (zipped({"course.toml": b"0" * (carry.LIMIT_BYTES + 1)}), "unpacks to over"),
        (zipped({f"{k}.md": b"" for k in range(carry.LIMIT_FILES + 1)}), "501 files"),
    ],
    ids=["no zip", "a strange file", "too large", "too many"],
)
def test_a_foreign_or_damaged_archive_changes_nothing(ines, stream, says):
    with pytest.raises(ArchiveTrouble, match=says):
        carry.load_files(carry.files_of_zip(stream), owner=ines)
    assert not Week.objects.exists()


def test_a_folder_zipped_by_hand_is_read_as_well(ines):
    """A folder around everything, and what a computer leaves in it."""
    files = carry.files_of_zip(io.BytesIO(carry.to_zip(TEXT)))
    by_hand = {f"My course/{name}": content for name, content in files.items()}
    by_hand |= {"__MACOSX/My course/._course.toml": b"\0", "My course/.DS_Store": b"\0"}
    course = carry.load_files(carry.files_of_zip(zipped(by_hand)), owner=ines)
    assert carry.as_text(course) == TEXT


def test_an_archive_explains_itself():
    files = carry.files_of_zip(io.BytesIO(carry.to_zip(TEXT)))
    assert "A course in plain files" in files["README.md"].decode()


def test_a_course_keeps_its_own_lines_and_mains_in_a_copy(ines):
    text = replace(TEXT, mains_hz=60, limits={"diffraction": {"limit": 32.0}}, glossary="stop: x")
    course = carry.load(text, owner=ines)
    again = carry.load_files(carry.files_of_zip(io.BytesIO(carry.to_zip(text))), owner=ines)
    assert (course.mains_hz, again.mains_hz) == (60, 60)
    assert again.limits == {"diffraction": {"limit": 32.0}}
    assert carry.as_text(again) == text


def test_a_damaged_archive_never_does_worse_than_being_refused():
    """Bytes turned over and cut off: a course comes out whole or not at all, with the reason."""
    whole = carry.to_zip(TEXT)
    chance = random.Random(11)
    reasons = []
    for _ in range(120):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 6)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        data = data[: chance.randint(len(data) // 2, len(data))]
        try:
            read_archive(carry.files_of_zip(io.BytesIO(bytes(data))))
        except ArchiveTrouble as trouble:
            reasons.append(str(trouble))
    assert all(reasons)
    assert len(reasons) > 100  # a byte nobody reads, such as a date, may be any other


def test_a_damaged_page_in_a_whole_zip_never_does_worse_than_being_refused():
    files = carry.files_of_zip(io.BytesIO(carry.to_zip(TEXT)))
    chance = random.Random(12)
    reasons = []
    for _ in range(150):
        name = chance.choice(sorted(files))
        data = bytearray(files[name])
        data[chance.randrange(len(data))] = chance.choice(b"\0\xff\"'[]{}=+\n 9a")
        try:
            read_archive(files | {name: bytes(data)})
        except ArchiveTrouble as trouble:
            reasons.append(str(trouble))
    assert reasons
    assert all(reasons)


def test_the_page_says_why_an_archive_was_refused(client, ines):
    client.force_login(ines)
    page = client.post("/course/bring-in/", {"archive": io.BytesIO(b"hello")}).content.decode()
    assert "Nothing was changed" in page
    assert not Week.objects.exists()

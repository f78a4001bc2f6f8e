"""The HTTP interface: contract 5.5 of the design, driven as a program would."""

import io
from pathlib import Path

import pytest
from PIL import Image
from rest_framework.test import APIClient

from course.models import Exercise, Week
from shootlog.models import ApiToken, Frame, Series

pytestmark = pytest.mark.django_db
REAL = Path(__file__).parents[2] / "shared" / "frames" / "camera" / "Canon1DmkIII.jpg"


def program_of(user):
    client = APIClient()
    _, key = ApiToken.objects.make(user)
    client.credentials(HTTP_AUTHORIZATION=f"Token {key}")
    return client


def picture(name="a.jpg", colour=(90, 120, 60)):
    out = io.BytesIO()
    Image.new("RGB", (64, 48), colour).save(out, "JPEG")
    out.seek(0)
    out.name = name
    return out


@pytest.fixture
def exercise(course):
    week = Week.objects.create(course=course, number=1, title="One")
    return Exercise.objects.create(week=week, title="Between")


def test_without_a_token_nothing_opens(client):
    for path in ("frames/1/", "exercises/", "review/"):
        assert client.get(f"/api/{path}").status_code == 401
    for path in ("frames/", "hand-ins/", "crits/"):
        assert client.post(f"/api/{path}").status_code == 401


def test_a_token_sent_in_the_open_is_refused(sam, settings):
    settings.SECURE_SSL_REDIRECT = True
    settings.SECURE_REDIRECT_EXEMPT = [r"^api/"]  # as a public https address sets both
    answer = program_of(sam).get("/api/exercises/")
    assert answer.status_code == 401
    assert "by https only" in answer.json()["detail"]
    assert program_of(sam).get("/api/exercises/", secure=True).status_code == 200


def test_a_frame_goes_in_once_and_its_reading_comes_out(sam, noor, work):
    sam_program = program_of(sam)
    first = sam_program.post("/api/frames/", {"file": picture()})
    again = sam_program.post("/api/frames/", {"file": picture("b.jpg")})
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.data["id"] == again.data["id"]
    assert first.data["state"] == "waiting"
    work()
    read = sam_program.get(f"/api/frames/{first.data['id']}/").json()
    assert read["state"] == "ready"
    assert read["recorded"]["width_px"] == 64
    assert read["reading"]["magnification"] is None
    stripped = next(f for f in read["findings"] if f["finding"] == "stripped-file")
    assert stripped["answer"] == "yes"
    assert program_of(noor).get(f"/api/frames/{first.data['id']}/").status_code == 404


def test_a_real_camera_file_is_read_as_its_diary_says(sam, work):
    if not REAL.exists():
        pytest.skip("the shared real files are not beside this checkout")
    program = program_of(sam)
    with REAL.open("rb") as file:
        sent = program.post("/api/frames/", {"file": file})
    work()
    read = program.get(f"/api/frames/{sent.data['id']}/").json()
    assert "Canon" in read["recorded"]["make"]
    assert read["recorded"]["origins"]


def test_what_is_no_picture_is_refused_in_words(sam):
    text = io.BytesIO(b"hello, this is no picture at all")
    text.name = "hello.jpg"
    answer = program_of(sam).post("/api/frames/", {"file": text})
    assert answer.status_code == 415
    assert "hello.jpg" in answer.json()["detail"]
    assert not Frame.objects.exists()


def test_the_loop_over_http(ines, sam, noor, exercise):
    student, teacher = program_of(sam), program_of(ines)
    frame = student.post("/api/frames/", {"file": picture()}).data["id"]
    assert [e["id"] for e in student.get("/api/exercises/").json()["results"]] == [exercise.pk]
    handed = student.post(
        "/api/hand-ins/",
        {"exercise": exercise.pk, "frames": [frame], "wanted": "the hairs"},
        format="json",
    )
    assert handed.status_code == 201
    row = teacher.get("/api/review/").json()["results"][0]
    assert row["wanted"] == "the hairs"
    assert row["reason"]
    crit = {"hand_in": handed.data["id"], "words": "Lean in.", "decision": "reshoot asked"}
    assert teacher.post("/api/crits/", crit, format="json").status_code == 400
    crit |= {"one_thing": "f/8 and the timer", "release": True}
    said = teacher.post("/api/crits/", crit, format="json")
    assert said.status_code == 201
    assert said.data["released_at"]
    assert teacher.get("/api/review/").json()["results"] == []
    assert student.post("/api/crits/", crit, format="json").status_code == 404


def test_the_same_sent_twice_is_one_hand_in_and_a_reading_is_judged_for_programs_too(
    ines, sam, exercise, work
):
    """A line lost after the answer makes a program send again, as a form sent twice does."""
    student, teacher = program_of(sam), program_of(ines)
    frame = student.post("/api/frames/", {"file": picture()}).data["id"]
    said = {"exercise": exercise.pk, "frames": [frame], "wanted": "the hairs"}
    first = student.post("/api/hand-ins/", said, format="json")
    again = student.post("/api/hand-ins/", said | {"wanted": "the eye"}, format="json")
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.data["id"] == again.data["id"]
    assert first.data["verdicts"] is None
    frames = Frame.objects.filter(pk=frame)
    series = Series.objects.of_frames(owner=sam, kind="stack", frames=frames)
    said |= {"wanted": "the eye", "series": series.pk}
    again = student.post("/api/hand-ins/", said, format="json")
    assert (again.data["id"], again.data["series"]) == (first.data["id"], series.pk)
    work()
    (row,) = teacher.get("/api/review/").json()["results"]
    assert row["wanted"] == "the eye"
    assert row["verdicts"] is not None


def test_what_is_not_yours_is_not_there(sam, noor, otto, greta, exercise):
    frame = program_of(noor).post("/api/frames/", {"file": picture()}).data["id"]
    asked = {"exercise": exercise.pk, "frames": [frame]}
    assert program_of(sam).post("/api/hand-ins/", asked, format="json").status_code == 404
    assert program_of(otto).post("/api/hand-ins/", asked, format="json").status_code == 404
    assert program_of(otto).get("/api/exercises/").json()["count"] == 0
    handed = program_of(noor).post("/api/hand-ins/", asked, format="json").data["id"]
    assert program_of(greta).get("/api/review/").json()["count"] == 0
    crit = {"hand_in": handed, "words": "x"}
    assert program_of(greta).post("/api/crits/", crit, format="json").status_code == 404


def test_the_interface_is_described_without_a_warning(client):
    from django.core.management import call_command

    out = io.StringIO()
    call_command("spectacular", "--validate", "--fail-on-warn", stdout=out)
    assert client.get("/api/schema/").status_code == 200
    for path in ("/api/frames/", "/api/frames/{id}/", "/api/hand-ins/", "/api/crits/"):
        assert path in out.getvalue()


def test_a_refusal_is_a_sentence_that_names_the_field(sam):
    answer = program_of(sam).post("/api/hand-ins/", {"frames": ["x"]}, format="json")
    assert answer.status_code == 400
    assert "exercise: This field is required." in answer.json()["detail"]
    assert "frames: A valid integer is required." in answer.json()["detail"]
    assert answer.json()["exercise"] == ["This field is required."]


def test_an_address_that_never_was_answers_a_program_in_json(sam):
    answer = program_of(sam).get("/api/frames/null,null/")
    assert answer.status_code == 404
    assert answer.json() == {"detail": "Not found."}

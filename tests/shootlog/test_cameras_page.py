"""A camera's clock put right by a photograph of the clock page; its sensor width told."""

from datetime import UTC, datetime, timedelta

import pytest

from shootlog.models import Camera, Frame

pytestmark = pytest.mark.django_db
TAKEN = datetime(2026, 5, 7, 19, 17, 30, tzinfo=UTC)


@pytest.fixture
def camera(sam):
    return Camera.objects.create(owner=sam, make="Hollin", model="H1")


@pytest.fixture
def frame(sam, camera):
    return Frame.objects.create(
        owner=sam, camera=camera, sha256="a" * 64, size_bytes=1, taken_at=TAKEN
    )


def told(client, camera, **values):
    return client.post(f"/log/cameras/{camera.pk}/", values)


def test_a_photograph_of_the_clock_page_puts_the_frames_right(as_person, sam, camera, frame):
    client = as_person(sam)
    told(client, camera, clock_frame=frame.pk, clock_showed="18:30:30")
    camera.refresh_from_db()
    frame.refresh_from_db()
    assert camera.clock_offset_s == -47 * 60
    assert frame.taken_at == TAKEN - timedelta(minutes=47)
    # told once more from the same frame, nothing moves twice
    told(client, camera, clock_frame=frame.pk, clock_showed="18:30:30")
    camera.refresh_from_db()
    assert camera.clock_offset_s == -47 * 60
    assert "47 min ahead" in client.get("/log/cameras/").content.decode()


def test_a_day_that_is_off_is_told_with_the_time(as_person, sam, camera, frame):
    told(as_person(sam), camera, clock_frame=frame.pk, clock_showed="2026-05-09 19:17:30")
    camera.refresh_from_db()
    assert camera.clock_offset_s == 2 * 86400


@pytest.mark.parametrize("showed", ["25:00", "noon", "2026-02-31 10:00"])
def test_what_is_no_time_is_asked_again(as_person, sam, camera, frame, showed):
    page = told(as_person(sam), camera, clock_frame=frame.pk, clock_showed=showed)
    assert page.status_code == 200
    camera.refresh_from_db()
    assert camera.clock_offset_s == 0


def test_minutes_and_the_sensor_may_simply_be_typed(as_person, sam, camera, frame):
    told(as_person(sam), camera, minutes_off="-47", sensor_width_mm="23.5")
    camera.refresh_from_db()
    assert (camera.clock_offset_s, camera.sensor_width_mm) == (-2820, 23.5)


def test_a_camera_of_someone_else_is_not_there(as_person, noor, camera):
    assert told(as_person(noor), camera, minutes_off="1").status_code == 404


def test_the_clock_page_shows_the_time_of_this_house(as_person, sam):
    page = as_person(sam).get("/log/clock/").content.decode()
    assert "data-clock" in page
    assert f"{datetime.now(UTC):%Y-%m-%d}" in page

"""Set-ups: told once, offered again, measured with two taps on a ruler."""

import pytest
from django.urls import reverse

from shootlog.models import KeptSetUp
from shootlog.ruler_taps import scale_of

pytestmark = pytest.mark.django_db


def test_a_set_up_is_told_and_offered(as_person, sam):
    client = as_person(sam)
    data = {"name": "90 mm on tubes", "lens": "90 mm macro", "tube_mm": "20", "reversed": "unknown"}
    client.post(reverse("shootlog:new-set-up"), data)
    kept = KeptSetUp.objects.get()
    assert (kept.owner, kept.tube_mm, kept.reversed) == (sam, 20.0, None)
    assert "90 mm on tubes" in client.get(reverse("shootlog:set-ups")).text
    assert "90 mm on tubes" in client.get(reverse("shootlog:log")).text


@pytest.mark.parametrize(
    ("field", "value"),
    [("tube_mm", "-3"), ("teleconverter", "9"), ("focal_length_mm", "0"), ("tube_mm", "nan")],
)
def test_a_number_that_cannot_be_is_named_and_nothing_kept(as_person, sam, field, value):
    data = {"name": "x", field: value, "reversed": "unknown"}
    page = as_person(sam).post(reverse("shootlog:new-set-up"), data)
    assert page.status_code == 200
    assert field in page.context["form"].errors
    assert not KeptSetUp.objects.exists()


def test_someone_elses_set_up_is_not_there(as_person, sam, noor, make_frame):
    kept = KeptSetUp.objects.create(owner=sam, name="mine")
    client = as_person(noor)
    assert client.get(reverse("shootlog:set-up", args=[kept.pk])).status_code == 404
    assert client.post(reverse("shootlog:retire-set-up", args=[kept.pk])).status_code == 404
    frame = make_frame(noor)
    assert client.get(reverse("shootlog:ruler", args=[kept.pk, frame.pk])).status_code == 404


def test_a_retired_set_up_is_not_offered_and_its_frames_keep_it(as_person, sam, make_frame):
    kept = KeptSetUp.objects.create(owner=sam, name="mine")
    frame = make_frame(sam, set_up=kept)
    as_person(sam).post(reverse("shootlog:retire-set-up", args=[kept.pk]))
    assert not KeptSetUp.objects.offered_to(sam).exists()
    frame.refresh_from_db()
    assert frame.set_up == kept


def measure(client, kept, frame, **data):
    values = {"x1": 100, "y1": 200, "x2": 1700, "y2": 200, "millimetres": 10} | data
    return client.post(reverse("shootlog:ruler", args=[kept.pk, frame.pk]), values)


def test_two_taps_give_the_magnification(as_person, sam, make_frame):
    """Analytic: 1600 px over 10 mm on 6.25 µm pixels are 160 x 0.00625 = exactly life-size."""
    kept = KeptSetUp.objects.create(owner=sam, name="mine")
    frame = make_frame(sam, numbers={"file_pixel_um": 6.25})
    measure(as_person(sam), kept, frame)
    kept.refresh_from_db()
    assert kept.ruler_px_per_mm == pytest.approx(160)
    assert kept.ruler_magnification == pytest.approx(1.0)
    assert kept.ruler_low < 1.0 < kept.ruler_high
    assert kept.ruler_high - kept.ruler_low == pytest.approx(2 * 6 / 1600)
    assert kept.ruler_frame == frame


def test_slanted_taps_measure_along_the_ruler(as_person, sam, make_frame):
    kept = KeptSetUp.objects.create(owner=sam, name="mine")
    frame = make_frame(sam, numbers={"file_pixel_um": 5.0})
    measure(as_person(sam), kept, frame, x1=0, y1=0, x2=300, y2=400, millimetres=5)
    kept.refresh_from_db()
    assert kept.ruler_px_per_mm == pytest.approx(100)


def test_a_sensor_nobody_knows_is_asked_for(as_person, sam, make_frame):
    kept = KeptSetUp.objects.create(owner=sam, name="mine")
    frame = make_frame(sam)
    frame.recorded |= {"width_px": 6000}
    frame.save()
    client = as_person(sam)
    page = measure(client, kept, frame)
    assert "sensor_width_mm" in page.context["form"].errors
    measure(client, kept, frame, sensor_width_mm=36)
    kept.refresh_from_db()
    assert kept.sensor_width_mm == 36
    assert kept.ruler_magnification == pytest.approx(160 * 36 / 6000)


@pytest.mark.parametrize(
    "data", [{"x2": 101}, {"millimetres": 0}, {"millimetres": "nan"}, {"x1": -5}, {"y2": ""}]
)
def test_taps_that_cannot_be_are_refused_in_words(as_person, sam, make_frame, data):
    kept = KeptSetUp.objects.create(owner=sam, name="mine")
    page = measure(as_person(sam), kept, make_frame(sam, numbers={"file_pixel_um": 6.0}), **data)
    assert page.context["form"].errors
    kept.refresh_from_db()
    assert kept.ruler_magnification is None


def test_taps_closer_than_they_miss_by_measure_nothing():
    with pytest.raises(ValueError, match="too short"):
        scale_of(5.0, 1.0)
    with pytest.raises(ValueError, match="millimetres"):
        scale_of(500.0, 0.0)

"""Two cameras at one stack, one clock ahead: from the files as sent to the order of the series."""

import io
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from shootlog.models import Camera, Frame, Series
from shootlog.series_job import put_together

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "frames"
RAIL = [DEMO / f"adaeze-rail-stack-{k}.jpg" for k in range(1, 8)]
BEGAN = datetime.fromisoformat("2026-05-03T10:00:00")  # class time, as a camera writes it
AHEAD = timedelta(minutes=47)
DATE_TIME_ORIGINAL = 0x9003  # tags of Exif 2.32, CIPA DC-008
EXIF_IFD = 0x8769
MAKE, MODEL = 0x010F, 0x0110
pytestmark = pytest.mark.django_db


def as_sent(path, model, taken_at):
    """The picture as a camera of this model would have written it at that time of its clock."""
    exif = Image.Exif()
    exif[MAKE], exif[MODEL] = "Hollin", model
    exif.get_ifd(EXIF_IFD)[DATE_TIME_ORIGINAL] = taken_at.strftime("%Y:%m:%d %H:%M:%S")
    out = io.BytesIO()
    with Image.open(path) as image:
        image.save(out, "JPEG", quality=92, exif=exif)
    number = path.stem.rsplit("-", 1)[1]
    return SimpleUploadedFile(f"{model}-{number}.jpg", out.getvalue(), "image/jpeg")


def turn_by_turn(first, last):
    """H1 and H2 by turns, 20 s apart; H2's clock runs ahead."""
    for k in range(first, last):
        model = ("H1", "H2")[k % 2]
        late = AHEAD if model == "H2" else timedelta()
        yield as_sent(RAIL[k], model, BEGAN + timedelta(seconds=20 * k) + late)


def order(row):
    row.refresh_from_db()
    return [frame["file"] for frame in row.check_result["frames"]]


@pytest.mark.parametrize("told_by", ["clock frame", "minutes"])
def test_a_clock_put_right_lets_two_cameras_interleave(as_person, sam, work, told_by):
    client = as_person(sam)
    clock_page = as_sent(DEMO / "adaeze-rail-stack-12.jpg", "H2", BEGAN - AHEAD / 2 + AHEAD)
    client.post("/log/send/", {"files": [*turn_by_turn(0, 6), clock_page]})
    work()
    frames = list(Frame.objects.filter(owner=sam).exclude(sent_name=clock_page.name))
    row = put_together(owner=sam, kind="stack", frames=frames)
    work()
    one, two = ["H1-1.jpg", "H1-3.jpg", "H1-5.jpg"], ["H2-2.jpg", "H2-4.jpg", "H2-6.jpg"]
    assert order(row) == [*one, *two]
    assert row.check_result["out_of_order"] != []  # the focus goes to and fro

    second = Camera.objects.get(owner=sam, model="H2")
    if told_by == "minutes":
        told = {"minutes_off": "-47"}
    else:
        shown = Frame.objects.get(sent_name=clock_page.name)
        told = {"clock_frame": shown.pk, "clock_showed": f"{BEGAN - AHEAD / 2:%H:%M:%S}"}
    client.post(f"/log/cameras/{second.pk}/", told)
    work()
    assert order(row) == [name for pair in zip(one, two, strict=True) for name in pair]
    assert row.check_result["out_of_order"] == []

    # what this camera sends from now on is put right as it comes in
    later = as_sent(RAIL[6], "H2", BEGAN + timedelta(minutes=5) + AHEAD)
    client.post("/log/send/", {"files": [later]})
    work()
    taken_at = Frame.objects.get(sent_name=later.name).taken_at
    assert timezone.localtime(taken_at).replace(tzinfo=None) == BEGAN + timedelta(minutes=5)
    assert Series.objects.filter(pk=row.pk, state=Series.State.READY).exists()

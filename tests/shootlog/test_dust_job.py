"""From files to the finding: frames of one body are compared once they are read."""

import io

import numpy as np
import pytest
from PIL import ExifTags, Image

from shootlog.dust_job import ask_for_dust, look_for_dust
from shootlog.findings import all_findings
from shootlog.intake.receive import receive
from shootlog.models import Frame, Job
from tests.optics.evidence_pixels import test_dust as drawn

pytestmark = pytest.mark.django_db
SPECK = ((0.70, 0.15, 0.008, 0.5),)
#: In these the speck lies on something even.
THINGS = ("pod-m0.25", "flower-m0.5", "seed-head-m0.10", "shell-m1")


def file(name, specks, serial="one", f_number=22.0):
    exif = Image.Exif()
    exif[ExifTags.Base.Make], exif[ExifTags.Base.Model] = "Brackwater", "Q2m"
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    inner |= {ExifTags.Base.FNumber: f_number, ExifTags.Base.BodySerialNumber: serial}
    out = io.BytesIO()
    Image.fromarray(drawn.luma(name, specks)).convert("RGB").save(
        out, "JPEG", quality=92, exif=exif
    )
    return io.BytesIO(out.getvalue())


def sent(owner, things, specks=SPECK, **how):
    for name in things:
        receive(file(name, specks, **how), owner=owner, name=f"{name}.jpg")


def flagged():
    return sorted(f.sent_name for f in Frame.objects.filter(flags__finding="dust"))


def test_the_same_speck_in_three_frames_is_dust_in_each(sam, work):
    sent(sam, THINGS[:2])
    work()
    assert flagged() == []
    sent(sam, THINGS[2:])
    work()
    assert len(flagged()) >= 3
    frame = Frame.objects.filter(flags__finding="dust").first()
    outcome = all_findings()["dust"].examine(frame.what_was_read)
    assert outcome.answer == "yes"
    assert outcome.sure == "measured"
    assert "have the same dark spot" in outcome.words
    assert ".jpg and " in outcome.words
    crop = outcome.proof.here
    assert crop.x < 0.70 * 900 < crop.x + crop.w
    assert crop.y < 0.15 * 900 < crop.y + crop.h


def test_another_body_another_person_and_open_apertures_do_not_count(sam, noor, work):
    sent(sam, THINGS[:2])
    sent(sam, THINGS[2:3], serial="two")
    sent(sam, THINGS[3:], f_number=2.8)
    sent(noor, THINGS[2:3])
    work()
    assert flagged() == []


def test_looking_again_changes_nothing_and_a_cleaned_sensor_is_forgotten(sam, work):
    sent(sam, THINGS)
    work()
    before = list(Frame.objects.order_by("pk").values("evidence", "reading"))
    camera = Frame.objects.first().camera_id
    look_for_dust.func(camera)
    assert list(Frame.objects.order_by("pk").values("evidence", "reading")) == before
    for frame in Frame.objects.all():
        frame.evidence |= {"spots": []}
        frame.save()
    look_for_dust.func(camera)
    assert flagged() == []
    assert not any("dust" in f.evidence["crops"] for f in Frame.objects.all())


def test_many_frames_wait_for_one_look(sam, make_frame, django_assert_max_num_queries):
    from shootlog.models import Camera

    camera = Camera.objects.create(owner=sam, make="Brackwater", model="Q2m")
    evidence = {"spots": [[0.5, 0.5, 0.2]], "crops": {}, "width_px": 90, "height_px": 60}
    frames = [make_frame(sam, camera=camera, evidence=evidence) for _ in range(12)]
    for frame in frames:
        ask_for_dust(frame)
    assert Job.objects.filter(task=look_for_dust.module_path).count() == 1
    with django_assert_max_num_queries(4):
        look_for_dust.func(camera.pk)
    look_for_dust.func(10**6)  # a camera that went


def test_portrait_frames_show_the_spot_where_it_is_seen(sam, make_frame):
    from shootlog.dust_job import _note

    evidence = {"crops": {}, "width_px": 600, "height_px": 900, "turned": 6}
    frame = make_frame(sam, evidence=evidence)
    _note(frame, {"frames": 3, "at": [0.7, 0.225], "beside": []})
    x, y, w, h = frame.evidence["crops"]["dust"]["here"]
    assert np.allclose((x + w / 2, y + h / 2), ((1 - 0.225) * 600, 0.7 * 900), atol=20)

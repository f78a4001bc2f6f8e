"""Series looked at in the background: what is kept, named and flagged, and what bad input says.

The truth of each series is beside it in `fixtures/series` (rendered by `fixtures/render`): which
slice was taken out, which frames belong together.
"""

import io
from pathlib import Path

import numpy as np
import pytest
from django.core.files.base import ContentFile
from django.core.management import call_command
from PIL import Image

from shootlog import series_job, store
from shootlog.models import Frame, Job, Series
from shootlog.removal import remove_frames
from shootlog.series_job import _shots, check_series, put_together, read_series
from tests.frames import jpeg

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "frames"
RAIL = [DEMO / f"adaeze-rail-stack-{k}.jpg" for k in range(1, 13)]
pytestmark = pytest.mark.django_db


@pytest.fixture
def rail(sam, make_frame):
    """The frames of a rail stack as reading leaves them: row, facts, picture."""
    return [read(make_frame, sam, path, k) for k, path in enumerate(RAIL)]


def read(make_frame, owner, path, k, **columns):
    data = path.read_bytes()
    with Image.open(io.BytesIO(data)) as image:
        width, height = image.size
    recorded = {"width_px": width, "height_px": height, "origins": {}}
    taken_at = f"2026-05-03T09:{k:02d}:00+00:00"
    frame = make_frame(
        owner,
        data=data,
        pictures=True,
        sent_name=path.name,
        recorded=recorded,
        **{"taken_at": taken_at} | columns,
    )
    return Frame.objects.get(pk=frame.pk)


def test_a_stack_is_looked_at_once_its_frames_are_read(sam, rail, work):
    row = put_together(owner=sam, kind="stack", frames=rail, name="Rail stack")
    assert Job.objects.filter(task=read_series.module_path).count() == 1
    work()
    row.refresh_from_db()
    assert row.state == Series.State.READY
    assert row.trouble == ""
    # index.toml: steps of 1.43 mm of `focus_miss_mm`, and 2.86 mm between 8 and 9
    assert row.check_result["gaps"] == [[8, 9]]
    assert [f["frame"] for f in row.check_result["frames"]] == [f.pk for f in rail]
    assert "stack-gap" in set(row.flags.values_list("finding", flat=True))
    with store.store().open(row.proof_key) as proof, Image.open(proof) as image:
        assert image.format == "PNG"
        assert max(image.size) < 1200


def test_the_same_again_gives_the_same_and_leaves_what_people_said(sam, rail, work):
    row = put_together(owner=sam, kind="stack", frames=rail)
    work()
    before = Series.objects.get(pk=row.pk).check_result
    row.flags.get(finding="stack-gap").set_aside(by=sam, why="meant so")
    call_command("reread")
    again = Series.objects.get(pk=row.pk)
    assert again.check_result == before
    assert again.flags.get(finding="stack-gap").set_aside_at is not None


def test_it_waits_for_the_last_frame_and_runs_when_that_is_read(sam, work):
    from shootlog.intake.receive import receive

    frames = []
    for path in RAIL[:3]:
        with path.open("rb") as file:
            frames.append(receive(ContentFile(file.read()), owner=sam, name=path.name)[0])
    row = put_together(owner=sam, kind="stack", frames=frames)
    assert not Job.objects.filter(task=read_series.module_path).exists()
    work()
    row.refresh_from_db()
    assert row.state == Series.State.READY
    assert len(row.check_result["frames"]) == 3


def test_a_corrupt_frame_in_the_middle_is_named_and_the_rest_is_looked_at(sam, rail):
    rail[4].state, rail[4].trouble = Frame.State.UNREADABLE, "It breaks off in the middle."
    rail[4].save()
    row = put_together(owner=sam, kind="stack", frames=rail)
    check_series(row)
    assert row.state == Series.State.READY
    assert len(row.check_result["frames"]) == 11
    assert row.trouble.startswith(f"Frame 5 ({RAIL[4].name}) can't be opened.")
    assert "The other 11 are looked at without it, and numbered anew from 1." in row.trouble
    assert row.check_result["unreadable"][0]["error"] == "It breaks off in the middle."


@pytest.mark.parametrize("kind", Series.Kind.values)
def test_one_frame_is_no_series_and_says_so(sam, rail, kind):
    row = put_together(owner=sam, kind=kind, frames=rail[:1])
    check_series(row)
    assert row.state == Series.State.READY
    assert "One frame is no series yet" in row.trouble


@pytest.mark.parametrize("kind", Series.Kind.values)
def test_mixed_sizes_and_frames_without_a_time_are_said(sam, make_frame, kind):
    frames = [
        make_frame(
            sam,
            data=jpeg(width, height, 100 + k),
            pictures=True,
            recorded={"width_px": width, "height_px": height, "origins": {}},
        )
        for k, (width, height) in enumerate([(90, 60), (60, 90), (90, 60)])
    ]
    row = put_together(owner=sam, kind=kind, frames=frames)
    check_series(row)
    assert row.state == Series.State.READY
    assert "differ in size (60 x 90, 90 x 60 pixels)" in row.trouble
    assert row.check_result["ordered_by"].startswith("as given")


def test_four_hundred_frames_are_taken(sam, make_frame):
    frames = [make_frame(sam, data=jpeg(), pictures=True) for _ in range(400)]
    row = put_together(owner=sam, kind="burst", frames=frames)
    check_series(row)
    assert row.check_result["of"] == 400


def test_a_series_of_nothing_readable_says_so(sam, make_frame):
    frame = make_frame(sam, state=Frame.State.UNREADABLE, trouble="Empty.")
    row = put_together(owner=sam, kind="stack", frames=[frame])
    check_series(row)
    assert row.state == Series.State.UNREADABLE
    assert "can't be opened" in row.trouble


def test_a_series_deleted_while_it_is_looked_at_does_not_come_back(sam, rail):
    row = put_together(owner=sam, kind="stack", frames=rail[:3])
    Series.objects.all().delete()
    check_series(row)
    assert not Series.objects.exists()
    assert not store.holds(row.proof_key)


def test_deleting_a_frame_takes_the_proof_that_showed_it(sam, rail, work):
    row = put_together(owner=sam, kind="stack", frames=rail[:4])
    work()
    with store.store().open(row.proof_key) as file:
        before = file.read()
    remove_frames(Frame.objects.filter(pk=rail[0].pk))
    work()
    row.refresh_from_db()
    assert len(row.check_result["frames"]) == 3
    with store.store().open(row.proof_key) as file:
        assert file.read() != before
    remove_frames(Frame.objects.filter(pk__in=[f.pk for f in rail]))
    work()
    assert not Series.objects.filter(pk=row.pk).exists()
    assert not store.holds(row.proof_key)


def test_a_check_that_breaks_off_says_so_in_the_end(sam, rail, work, monkeypatch):
    monkeypatch.setattr("shootlog.models.job.BACK_OFF", [__import__("datetime").timedelta(0)] * 2)
    monkeypatch.setattr("shootlog.series_job.check", lambda *_: 1 / 0)
    row = put_together(owner=sam, kind="stack", frames=rail[:3])
    work()
    row.refresh_from_db()
    assert row.state == Series.State.UNREADABLE
    assert "fault of this log" in row.trouble


def test_apertures_are_compared_in_full_detail_and_a_ruler_is_looked_for(
    sam, make_frame, monkeypatch
):
    """Each frame's own map, not one of the screen picture, which averages fine detail away."""
    paths = sorted(DEMO.glob("kenji-aperture-series-*.jpg"))[:2]
    frames = [read(make_frame, sam, path, k) for k, path in enumerate(paths)]
    own = np.full((3, 5), 7.0, np.float16)
    for frame in frames:
        kept = io.BytesIO()
        np.savez(kept, detail=own)
        with store.store().open(f"{frame.shown_key}/map.npz", "wb") as file:
            file.write(kept.getvalue())
    row = put_together(owner=sam, kind="apertures", frames=frames)
    shots, _ = _shots(row, frames)
    assert [shot.detail.tolist() for shot in shots] == [own.tolist()] * 2
    assert all(shot.picture is not None for shot in shots)
    # where one frame has none, all are compared by their screen pictures
    store.remove(f"{frames[0].shown_key}/map.npz")
    shots, _ = _shots(row, frames)
    assert len({shot.detail.shape for shot in shots}) == 1
    assert shots[0].detail.shape != own.shape
    # in more frames than a lens has stops no ruler is looked for: the pictures are large
    monkeypatch.setattr(series_job, "MOST_FRAMES", 1)
    shots, _ = _shots(row, frames)
    assert all(shot.picture is None for shot in shots)

"""Reading frames in the background: idempotent, killable, words where it fails."""

import io
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest
from django.core.management import call_command
from PIL import Image

from shootlog import jobs, store
from shootlog.dust_job import look_for_dust
from shootlog.findings.base import Outcome
from shootlog.intake.cage import Broke, Looked
from shootlog.intake.receive import receive
from shootlog.models import Camera, Flag, Frame, Job, KeptSetUp
from shootlog.models.job import ATTEMPTS
from shootlog.recorded import Recorded
from shootlog.series_job import read_series
from shootlog.wording import Spread

pytestmark = pytest.mark.django_db

RECORDED = Recorded(
    make="Canon", model="Canon EOS 650D", body_serial="17", taken_at="2026-05-03T09:10:00"
)


def outcome(finding, answer="yes", **numbers):
    spreads = {name: Spread((number,)) for name, number in numbers.items()}
    return Outcome(finding, answer, "told", spreads)


@pytest.fixture
def frame(sam):
    out = io.BytesIO()
    Image.new("RGB", (32, 24), (90, 120, 60)).save(out, "JPEG")
    return receive(io.BytesIO(out.getvalue()), owner=sam, name="DSC_1.JPG")[0]


@pytest.fixture
def seen(monkeypatch):
    """Stand in for the decoders and the findings; they have tests of their own."""
    seen = SimpleNamespace(
        looked=Looked(RECORDED, {"sharp_share": 0.1}), outcomes=[outcome("shake", blur_um=9.0)]
    )

    def look(path, *, name, into, wanted):
        assert path.exists()
        if isinstance(seen.looked, Exception):
            raise seen.looked
        (into / "thumb.jpg").write_bytes(b"small")
        return seen.looked

    monkeypatch.setattr(jobs, "look_in_cage", look)
    monkeypatch.setattr(jobs, "examine", lambda reading: seen.outcomes)
    return seen


def test_a_frame_just_sent_goes_before_sets_and_before_frames_read_anew(sam, frame, seen):
    """Who has just sent a picture looks at the page; the rest of the work has no one waiting."""
    Job.objects.all().delete()
    look_for_dust.enqueue(1)
    read_series.enqueue(1)
    Frame.objects.update(state=Frame.State.READY)
    call_command("reread", pixels=True)
    jobs.read_frame.enqueue(frame.pk)
    order = [Job.objects.claim("here") for _ in range(4)]
    assert [job.task.rpartition(".")[2] for job in order] == [
        "read_frame", "look_for_dust", "read_series", "read_frame",
    ]  # fmt: skip
    assert [job.priority for job in order] == [jobs.FIRST, 0, 0, 0]


def test_a_frame_is_read_and_everything_is_written(frame, work, seen):
    work()
    frame.refresh_from_db()
    assert frame.state == Frame.State.READY
    assert frame.what_was_recorded == RECORDED
    assert frame.evidence == {"sharp_share": 0.1}
    assert frame.reading["sensor_width_mm"]["value"] == pytest.approx(22.3, rel=0.02)
    assert frame.caption
    assert frame.taken_at == datetime(2026, 5, 3, 9, 10, tzinfo=UTC)
    assert (frame.camera.model, frame.camera.serial) == ("Canon EOS 650D", "17")
    assert store.disk_path(f"{frame.shown_key}/thumb.jpg").read_bytes() == b"small"
    assert frame.flags.get().numbers == {"blur_um": 9.0}
    assert list(store.disk_path(frame.original_key).parent.glob("reading-*")) == []


def test_reading_twice_gives_the_same_rows(frame, work, seen):
    work()
    before = list(Flag.objects.values_list("pk", "finding"))
    jobs.read_frame.enqueue(frame.pk)
    work()
    assert list(Flag.objects.values_list("pk", "finding")) == before
    assert Camera.objects.count() == 1


def test_what_a_person_set_aside_stays_set_aside(frame, work, seen, ines):
    seen.outcomes = [outcome("shake"), outcome("high-iso")]
    work()
    frame.flags.get(finding="shake").set_aside(by=ines, why="wind")
    seen.outcomes = [outcome("diffraction"), outcome("high-iso", "no")]
    jobs.work_out_frame(Frame.objects.get(pk=frame.pk))
    flags = {f.finding: f.set_aside_why for f in frame.flags.all()}
    assert flags == {"shake": "wind", "diffraction": ""}


def test_a_file_that_cannot_be_read_says_so_and_keeps_what_is_known(frame, work, seen):
    seen.looked = Looked(RECORDED, None, "DSC_1.JPG opens only in part. Copy it again.")
    work()
    frame.refresh_from_db()
    assert (frame.state, frame.trouble) == (
        Frame.State.UNREADABLE,
        "DSC_1.JPG opens only in part. Copy it again.",
    )
    assert frame.what_was_recorded == RECORDED
    assert store.holds(frame.original_key)


def test_a_decoder_that_dies_each_time_is_tried_again_and_then_told(frame, work, seen):
    seen.looked = Broke("DSC_1.JPG could not be read: it took too long.")
    for _ in range(ATTEMPTS):
        frame.refresh_from_db()
        assert frame.state == Frame.State.WAITING
        Job.objects.update(run_after=datetime(2020, 1, 1, tzinfo=UTC))
        work()
    frame.refresh_from_db()
    assert frame.state == Frame.State.UNREADABLE
    assert "took too long" in frame.trouble


def test_a_fault_in_a_formula_is_not_put_on_the_file(frame, work, seen, monkeypatch):
    def faulty(*args, **kwargs):
        raise ZeroDivisionError

    monkeypatch.setattr(jobs, "work_out", faulty)
    for _ in range(ATTEMPTS):
        Job.objects.update(run_after=datetime(2020, 1, 1, tzinfo=UTC))
        work()
    frame.refresh_from_db()
    assert frame.state == Frame.State.READY
    assert "not of the file" in frame.trouble
    assert frame.what_was_recorded == RECORDED
    assert frame.reading is None
    monkeypatch.undo()
    jobs.work_out_frame(frame)  # as `reread` does, once the formula is right
    frame.refresh_from_db()
    assert (frame.trouble, bool(frame.reading)) == ("", True)


def test_words_of_an_earlier_trouble_go_when_it_is_read_after_all(frame, work, seen):
    seen.looked = Broke("too long")
    work()
    seen.looked = Looked(RECORDED, {})
    Job.objects.update(run_after=datetime(2020, 1, 1, tzinfo=UTC))
    work()
    frame.refresh_from_db()
    assert (frame.state, frame.trouble) == (Frame.State.READY, "")


def test_a_deleted_frame_is_no_trouble(frame, work, seen):
    Frame.objects.all().delete()
    work()
    assert Job.objects.get().state == Job.State.DONE


def test_a_missing_original_gets_words(frame, work, seen):
    store.disk_path(frame.original_key).unlink()
    work()
    frame.refresh_from_db()
    assert frame.state == Frame.State.UNREADABLE
    assert "Send it again" in frame.trouble


def test_the_sensor_told_for_a_body_counts_unless_the_set_up_says_more(frame, sam):
    frame.camera = Camera.objects.create(owner=sam, model="X", sensor_width_mm=35.9)
    assert jobs.told_set_up(frame).sensor_width_mm == 35.9
    frame.set_up = KeptSetUp(owner=sam, name="cropped", sensor_width_mm=23.5)
    assert jobs.told_set_up(frame).sensor_width_mm == 23.5


@pytest.mark.parametrize(
    ("recorded", "offset_s", "expected"),
    [
        (Recorded(taken_at="2026-05-03T09:10:00"), 0, datetime(2026, 5, 3, 9, 10, tzinfo=UTC)),
        (Recorded(taken_at="2026-05-03T09:10:00"), -3600, datetime(2026, 5, 3, 8, 10, tzinfo=UTC)),
        (
            Recorded(taken_at="2026-05-03T09:10:00", utc_offset="+02:00"),
            0,
            datetime(2026, 5, 3, 7, 10, tzinfo=UTC),
        ),
        (
            Recorded(taken_at="2026-05-03T09:10:00", taken_subsec_s=0.25),
            0,
            datetime(2026, 5, 3, 9, 10, 0, 250_000, tzinfo=UTC),
        ),
        (Recorded(taken_at="0001-01-01T00:00:00", utc_offset="+14:00"), -86_400, None),
        (Recorded(), 0, None),
    ],
)
def test_class_time(recorded, offset_s, expected):
    assert jobs.class_time(recorded, Camera(clock_offset_s=offset_s)) == expected


def test_a_clock_put_right_moves_its_frames_and_what_comes_later(frame, work, seen, noor):
    work()
    frame.refresh_from_db()
    others = Frame.objects.create(
        owner=noor, sha256="0" * 64, size_bytes=1, taken_at=frame.taken_at
    )
    frame.camera.put_clock_right(-90)
    frame.refresh_from_db()
    others.refresh_from_db()
    assert frame.taken_at == datetime(2026, 5, 3, 9, 8, 30, tzinfo=UTC)
    assert others.taken_at == datetime(2026, 5, 3, 9, 10, tzinfo=UTC)
    frame.camera.put_clock_right(0)
    frame.camera.put_clock_right(3600)
    jobs.read_frame.enqueue(frame.pk)
    work()
    frame.refresh_from_db()
    assert frame.taken_at == datetime(2026, 5, 3, 10, 10, tzinfo=UTC)


def test_reread_works_all_out_again_without_a_pixel(frame, work, seen, capsys):
    work()
    seen.looked = AssertionError("no pixel is read")
    seen.outcomes = [outcome("diffraction")]
    call_command("reread")
    assert [f.finding for f in frame.flags.all()] == ["diffraction"]
    assert "1 frames" in capsys.readouterr().out


def test_reread_with_pixels_leaves_the_reading_to_the_workers(frame, work, seen):
    work()
    call_command("reread", "--pixels", "--owner", "sam")
    assert Job.objects.filter(state=Job.State.WAITING).count() == 1
    call_command("reread", "--pixels", "--owner", "nobody")
    assert Job.objects.filter(state=Job.State.WAITING).count() == 1


def test_a_worker_killed_before_it_could_say_that_it_gave_up_is_spoken_for(sam):
    """Seen in the kill loop: the job's row had ended, and the frame said "reading" for ever."""
    from shootlog.jobs import read_frame, say_what_was_given_up
    from tests.frames import make_frame

    left, tried = (make_frame(sam, state=Frame.State.READING, recorded=None) for _ in range(2))
    row = {"task": read_frame.module_path, "state": Job.State.FAILED}
    Job.objects.create(args=[left.pk], **row)
    Job.objects.create(args=[tried.pk], **row)
    Job.objects.create(args=[tried.pk], task=read_frame.module_path)  # asked for once more
    assert say_what_was_given_up() == 1
    left.refresh_from_db()
    tried.refresh_from_db()
    assert left.state == Frame.State.UNREADABLE
    assert "The file is kept as it came" in left.trouble
    assert tried.state == Frame.State.READING
    assert say_what_was_given_up() == 0

"""Which frames are offered as a series: by time, camera, exposure and likeness."""

from dataclasses import replace

from shootlog.recorded import Recorded
from shootlog.series.grouping import group
from tests.shootlog.series import stacks
from tests.shootlog.series.apertures import aperture_series
from tests.shootlog.series.stacks import recorded_at, shots_of


def test_frames_are_grouped_by_time_camera_and_likeness():
    made, _ = stacks.random_stack(1)
    stack = shots_of(made)[:6]
    day = [replace(s, recorded=recorded_at(k, make="A", every_s=6)) for k, s in enumerate(stack)]
    later = [
        replace(s, recorded=recorded_at(k + 400, make="A", every_s=6)) for k, s in enumerate(stack)
    ]
    other = [replace(s, recorded=recorded_at(k, make="B", every_s=1)) for k, s in enumerate(stack)]
    none = [replace(stack[0], recorded=Recorded())]
    proposals = group([*day, *later, *other, *none])
    assert [p.members for p in proposals] == [
        tuple(range(6)),
        tuple(range(6, 12)),
        tuple(range(12, 18)),
    ]
    assert [p.kind for p in proposals] == ["stack", "stack", "burst"]


def test_two_cameras_at_work_at_once_are_two_series():
    """Turn by turn by the clock: each camera's frames stay together, in their own order."""
    made, _ = stacks.random_stack(1)
    stack = shots_of(made)[:10]
    mixed = [
        replace(s, recorded=recorded_at(k, make="AB"[k % 2], body_serial=str(k % 2), every_s=5))
        for k, s in enumerate(stack)
    ]
    proposals = group(mixed)
    assert [p.members for p in proposals] == [(0, 2, 4, 6, 8), (1, 3, 5, 7, 9)]
    # a clock an hour off, put right by the clock frame, joins nothing and loses nothing
    behind = [
        replace(s, recorded=recorded_at(k - 720 * (k % 2), make="AB"[k % 2], every_s=5))
        for k, s in enumerate(stack)
    ]
    assert sorted(p.members for p in group(behind)) == [(0, 2, 4, 6, 8), (1, 3, 5, 7, 9)]


def test_an_aperture_series_is_proposed_as_one():
    assert [p.kind for p in group(aperture_series(8.0))] == ["apertures"]

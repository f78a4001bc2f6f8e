"""Few-frame landscape stacks: near and far sharp, zones that meet, frames enough."""

from dataclasses import replace

import numpy as np
import pytest

from shootlog.findings.samples import sample
from shootlog.intake.shots import coarse_of
from shootlog.recorded import Recorded
from shootlog.series import check
from shootlog.series.landscape import frames_enough
from shootlog.series.shot import Shot
from tests.shootlog.series import stacks
from tests.shootlog.series.stacks import shots_of


def test_few_frames_near_and_far_meet():
    rows = np.linspace(0, 1, stacks.SIZE[0])[::-1]
    depth = np.broadcast_to(rows[:, None], stacks.SIZE)
    focus = [0.2, 0.5, 0.8]
    near = stacks.make(3, focus=focus, depth=depth, blur_per_depth=3, scale_per_frame=1.001)
    result = check("landscape", shots_of(near))
    assert result["framing_held"] is True
    assert result["findings"][1]["answer"] == "no"
    assert "would have been enough" not in result["words"]  # no frame says where it was focused
    told = [
        replace(shot, reading=focused_at(metres).reading)
        for shot, metres in zip(shots_of(near), (1.0, 1.1, 1.2), strict=True)
    ]
    words = check("landscape", told)["words"]
    assert "From the nearest to the farthest focus 2 would have been enough." in words
    far = stacks.make(3, focus=[0.05, 0.95], depth=depth, blur_per_depth=30, scale_per_frame=1.0)
    assert check("landscape", shots_of(far))["findings"][1]["answer"] == "yes"


def landscape(focus, blur_per_depth, seed):
    """The bottom of the frame at 0, the top at 1: a meadow seen from a tripod."""
    rows = np.linspace(1, 0, stacks.SIZE[0])
    depth = np.broadcast_to(rows[:, None], stacks.SIZE)
    made = stacks.make(
        seed,
        focus=focus,
        depth=depth,
        blur_per_depth=blur_per_depth,
        scale_per_frame=1.001,
        noise=0.4,
    )
    return [
        replace(shot, coarse=coarse_of(np.rint(frame).astype(np.uint8)))
        for shot, frame in zip(shots_of(made), made.frames, strict=True)
    ]


@pytest.mark.parametrize("seed", [3, 8])
def test_near_and_far_are_sharp_or_said_to_be_soft(seed):
    """The truth: 0.7 pixels of blur at a frame's focus, growing with the distance from it."""
    whole = check("landscape", landscape([0.15, 0.5, 0.85], 6, seed))
    assert (whole["near_sharp"], whole["far_sharp"]) == (True, True)
    assert [o["answer"] for o in whole["findings"]] == ["no"] * 4 + ["cannot tell"]
    begun_late = check("landscape", landscape([0.6, 0.8, 0.95], 10, seed))
    assert (begun_late["near_sharp"], begun_late["far_sharp"]) == (False, True)
    assert "The near third of the picture is sharp in no frame." in begun_late["words"]
    ended_early = check("landscape", landscape([0.05, 0.2, 0.35], 10, seed))
    assert (ended_early["near_sharp"], ended_early["far_sharp"]) == (True, False)
    # so far off that hardly anything shows there: neither is claimed
    hardly = check("landscape", landscape([0.8, 0.9, 0.97], 10, seed))
    assert (hardly["near_sharp"], hardly["far_sharp"]) == (None, True)


@pytest.mark.parametrize(
    ("shares", "enough"),
    [
        ((1, 3, 5), 3),  # each begins where the one before ends
        ((1, 2, 3, 4, 5), 3),  # twice as many hold no more
        ((1,), 1),
        ((1, 2), 2),  # overlapping, yet one frame holds no more than from half of H
        ((1, 3, 6), 4),  # from a seventh of H: no longer three
    ],
)
def test_how_many_frames_would_have_been_enough(shares, enough):
    """Consecutive depths: focused at H, H/3, H/5 frames reach from infinity to H/6.

    C. Welborne Piper, A First Book of the Lens (1901), from memory.
    """
    hyperfocal_m = 24.0**2 / (8.0 * 0.03) / 1000
    shots = [focused_at(hyperfocal_m / share) for share in shares]
    assert frames_enough(shots) == enough


def test_of_an_unsure_circle_of_confusion_the_finer_end_counts():
    """H is 4.8 m at 0.015 mm and 1.2 m at 0.06 mm, where two frames would do."""
    shots = [focused_at(4.8 / share, coc_um=(15.0, 60.0)) for share in (1, 3, 5)]
    assert frames_enough(shots) == 3


def test_frames_that_do_not_say_where_they_were_focused_are_not_counted():
    known, unknown = focused_at(2.4), focused_at(None)
    assert frames_enough([known, unknown]) is None
    assert frames_enough([known, focused_at(1.0, f_number=11.0)]) is None
    assert frames_enough([focused_at(0.1)]) is None  # close up the formula does not hold


def focused_at(metres, f_number=8.0, coc_um=30.0):
    """A frame of 24 mm and a circle of 0.03 mm, as far as its facts go."""
    facts = {"focal_length_mm": 24.0, "f_number": f_number, "coc_um": coc_um}
    if metres:
        facts["subject_distance_mm"] = metres * 1000
    blank = np.zeros((4, 4))
    return Shot("a.jpg", Recorded(), sample(**facts), blank, blank, 4, 4)

"""Light studies: the framing, the shadow side against the direction told, what is burnt out."""

import json
from dataclasses import replace

import numpy as np

from shootlog.findings.samples import sample
from shootlog.series import check
from shootlog.series.light import shadow_side
from tests.shootlog.series import stacks
from tests.shootlog.series.apertures import aperture_series
from tests.shootlog.series.stacks import recorded_at, shots_of, still


def test_the_shadow_lies_away_from_the_lamp():
    ramp = np.broadcast_to(np.linspace(0.8, 0.2, 300), (200, 300))
    assert shadow_side(ramp) == "right"
    assert shadow_side(ramp[:, ::-1]) == "left"
    assert shadow_side(np.broadcast_to(np.linspace(0.8, 0.2, 200)[:, None], (200, 300))) == "below"
    assert shadow_side(np.full((200, 300), 0.4)) is None


def test_a_light_study_holds_its_framing():
    rng = np.random.default_rng(2)
    picture = stacks.textured(rng, stacks.SIZE)
    ramp = np.linspace(0.5, 1.3, stacks.SIZE[1])
    frames = [picture * ramp, picture * ramp[::-1], picture]
    directions = ["right", "left", "front"]
    shots = shots_of(still(frames), recorded=[recorded_at(k) for k in range(3)])
    result = check("light", shots, {"directions": directions})
    assert result["framing_held"] is True
    assert [row["shadow_side"] for row in result["light"]][:2] == ["left", "right"]
    assert [row["direction"] for row in result["light"]] == directions
    assert [row["as_told"] for row in result["light"]] == [True, True, None]
    assert result["words"].startswith("Framing held; contrast from")
    json.dumps(result, allow_nan=False)
    # the same frames given in another order: each direction stays with its frame
    again = check("light", shots[::-1], {"directions": directions[::-1]})
    assert again["light"] == result["light"]
    # told the wrong way round, the dark side gives it away; light from the front leaves it open
    wrong = check("light", shots, {"directions": ["below", "left", "front"]})
    assert [row["as_told"] for row in wrong["light"]] == [False, True, None]
    assert (
        "Frame 1 was told as lit from below, but its dark side lies on the left" in wrong["words"]
    )


def test_a_thing_dark_on_one_side_is_not_held_against_what_was_told():
    """The albedo of the thing is the same in all frames; the other frames say the rest."""
    rng = np.random.default_rng(3)
    picture = stacks.textured(rng, stacks.SIZE) * np.linspace(0.45, 1.3, stacks.SIZE[1])
    down = np.linspace(0.93, 1.07, stacks.SIZE[0])[:, None]
    shots = shots_of(
        still([picture * down, picture * down[::-1], picture]),
        recorded=[recorded_at(k) for k in range(3)],
    )
    told = check("light", shots, {"directions": ["below", "above", "front"]})
    assert [row["shadow_side"] for row in told["light"]] == ["left"] * 3
    assert [row["as_told"] for row in told["light"]] == [True, True, None]


def test_a_light_study_of_two_sizes_holds_no_framing():
    shots = aperture_series(8.0)[:3]
    shots[1] = replace(shots[1], luma=shots[1].luma[:, :400])
    result = check("light", shots)
    assert result["framing_held"] is None
    assert "The framing can't be compared" in result["words"]


def test_burnt_out_is_what_every_pixel_of_the_file_says():
    """Glints as small as a pixel are gone from the small picture."""
    shots = [replace(s, reading=sample(clipped_share=0.02)) for s in aperture_series(8.0)[:2]]
    rows = check("light", shots)["light"]
    assert [row["clipped_share"] for row in rows] == [0.02, 0.02]

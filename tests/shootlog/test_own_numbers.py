"""The page of one's own numbers: own frames alone, in a fixed number of queries."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shootlog.models import Frame, Job, KeptSetUp, Series
from shootlog.own_past_of import hand_frames_of, untold_count
from shootlog.series.burst import frames_for_one

pytestmark = pytest.mark.django_db
ADDRESS = reverse("shootlog:own-numbers")


def make_burst(owner, make_frame, hits, of=10, day=3, **about):
    """A burst by hand at 1/125 s and life size, looked at: so many of it hit."""
    numbers = {"exposure_s": 1 / 125, "magnification": (1.0, "told")}
    frames = [
        make_frame(
            owner,
            pictures=True,
            numbers=numbers | ({"smear_px": (9.0, "measured")} if k >= hits else {}),
            **{"facts": {"support": "hand"}} | about,
        )
        for k in range(of)
    ]
    row = Series.objects.of_frames(owner=owner, kind="burst", frames=frames, name="On the eye")
    row.check_result = {
        "kind": "burst",
        "hits": hits,
        "of": of,
        "place": "marked",
        "frames": [
            {"file": str(f), "frame": f.pk, "taken_at": f"2026-05-{day:02d}T09:00:{k:02d}"}
            for k, f in enumerate(frames)
        ],
        "per_frame": [
            {
                "order": k + 1,
                "hit": k < hits,
                "sharpness": 0.9,
                "why_not": None if k < hits else "?",
            }
            for k in range(of)
        ],
        "frames_for_one": frames_for_one(hits / of),
        "exposure_spread_ev": 0.0,
        "findings": [],
        "words": f"{hits} of {of} hit.",
    }
    row.state = "ready"
    row.save()
    return row


def test_hits_advice_and_the_slowest_time_stand_in_words_and_drawn(as_person, sam, make_frame):
    make_burst(sam, make_frame, 2, day=3)
    make_burst(sam, make_frame, 8, day=24)
    page = as_person(sam).get(ADDRESS).text
    assert "2 of 10" in page
    assert "8 of 10" in page
    assert "Burst 4" in page  # ten of twenty: 1 - 1/2^4 = 0.94
    assert "(1 − 10/20)^4 = 0.94" in page  # noqa: RUF001
    assert page.index("2 of 10") < page.index("8 of 10")
    assert page.count("<svg") == 2
    assert "10 of 20" in page  # held, at 1/125 s: not yet two of three
    assert "1/125 s" in page


def test_nobody_elses_frames_are_on_it(as_person, sam, noor, make_frame):
    make_burst(noor, make_frame, 9)
    KeptSetUp.objects.create(owner=noor, name="hers", best_f_number=5.6)
    make_frame(noor, told={"companion": True})
    page = as_person(sam).get(ADDRESS).text
    assert "9 of 10" not in page
    assert "hers" not in page
    assert "through-weeks" not in page


def test_what_was_not_told_as_by_hand_does_not_count_and_is_said(sam, as_person, make_frame):
    make_burst(sam, make_frame, 5, facts={})
    assert hand_frames_of(sam) == []
    assert untold_count(sam) == 10
    assert "10 frames of your bursts do not say" in as_person(sam).get(ADDRESS).text


def test_the_best_aperture_of_each_set_up_stands_there(as_person, sam):
    KeptSetUp.objects.create(owner=sam, name="90 mm on the rail", best_f_number=5.6)
    page = as_person(sam).get(ADDRESS).text
    assert "90 mm on the rail" in page
    assert "f/5.6" in page


def test_the_companion_lies_in_the_order_of_the_weeks(as_person, sam, noor, make_frame):
    later, first, other = (
        make_frame(sam, pictures=True, sent_name=name, taken_at=f"2026-05-{day}T09:00:00+00:00")
        for name, day in (("later.jpg", 24), ("first.jpg", 10), ("other.jpg", 12))
    )
    hers = make_frame(noor, pictures=True)
    address = reverse("shootlog:companion")
    as_person(sam).post(address, {"frames": [later.pk, first.pk, hers.pk, "x"]})
    assert set(Frame.objects.filter(told__companion=True)) == {later, first}
    page = as_person(sam).get(ADDRESS).text
    assert page.index("first.jpg") < page.index("later.jpg")
    assert "other.jpg" not in page
    as_person(sam).post(address, {"frames": [later.pk]})
    assert set(Frame.objects.filter(told__companion=True)) == {later}


def test_what_was_told_of_a_companion_before_stays(as_person, sam, make_frame):
    frame = make_frame(sam, told={"support": "hand"})
    as_person(sam).post(reverse("shootlog:companion"), {"frames": [frame.pk]})
    frame.refresh_from_db()
    assert frame.told == {"support": "hand", "companion": True}


def test_an_empty_log_says_how_to_begin(as_person, sam):
    page = as_person(sam).get(ADDRESS).text
    assert "Ten frames of one small thing" in page
    assert "Choose the first frame" in page


def test_queries_do_not_grow_with_the_frames(as_person, sam, make_frame):
    def count():
        client = as_person(sam)
        client.get(ADDRESS)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(ADDRESS).status_code == 200
        return len(queries)

    make_burst(sam, make_frame, 2)
    make_frame(sam, told={"companion": True})
    KeptSetUp.objects.create(owner=sam, name="one", best_f_number=8)
    few = count()
    for k in range(4):
        make_burst(sam, make_frame, k + 1, day=10 + k)
        make_frame(sam, told={"companion": True})
        KeptSetUp.objects.create(owner=sam, name=f"more {k}", best_f_number=8)
    assert count() == few


def test_two_cameras_interleave_by_their_clock_offset(as_person, sam, make_frame):
    """The second camera's clock is an hour ahead; put right, its frames fall between."""
    from datetime import datetime, timedelta

    from shootlog.models import Camera
    from shootlog.series.shot import in_time_order
    from shootlog.series_job import shot_of

    one, two = (Camera.objects.create(owner=sam, make="Hollin", model=m) for m in ("H1", "H2"))
    start = datetime.fromisoformat("2026-05-03T09:00:00+00:00")
    frames = [
        make_frame(
            sam,
            pictures=True,
            camera=camera,
            sent_name=f"{camera.model}-{k}.jpg",
            taken_at=start + timedelta(minutes=2 * k + late, hours=hours),
        )
        for camera, late, hours in ((one, 0, 0), (two, 1, 1))
        for k in range(3)
    ]

    def order():
        shots = [shot_of(Frame.objects.get(pk=frame.pk)) for frame in frames]
        ordered, timed = in_time_order(shots)
        assert timed
        return [Frame.objects.get(pk=int(shot.file)).sent_name[:2] for shot in ordered]

    assert order() == ["H1"] * 3 + ["H2"] * 3
    row = Series.objects.of_frames(owner=sam, kind="stack", frames=frames)
    as_person(sam).post(reverse("shootlog:camera", args=[two.pk]), {"minutes_off": -60})
    assert order() == ["H1", "H2"] * 3
    assert Job.objects.filter(args=[row.pk]).count() == 1  # looked at again in the new order

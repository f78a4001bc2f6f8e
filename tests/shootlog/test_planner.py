"""Wishes against a kit: which set-ups, drawn to scale, and what stands in the way."""

import json
from itertools import pairwise

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from optics.solve import Body, Lens, Subject
from shootlog.models import KeptPlan, KeptSetUp, KitItem, Series
from shootlog.planner import choices, sums_of, whole_kit
from shootlog.side_view import curves, depth_band, side_view
from shootlog.what_if import Asked, what_if

FULL = Body("full frame", 36.0, 24.0)
STACK = (
    "/plan/stack/?focal_length_mm=100&lens_magnification=1&f_number=8&sensor_width_mm=36"
    "&subject_depth_mm=8&way=rail"
)


def test_rings_make_every_sum_once():
    assert sums_of([12.0, 20.0, 36.0], 4) == (12, 20, 32, 36, 48, 56, 68)
    assert sums_of([2.0, 4.0, 6.0], 2) == (2, 4, 6, 8, 10)


def test_the_ring_that_its_maker_prints_is_found():
    """Micro-Nikkor 55/2.8 manual: 1:2 becomes 1:1 with the PK-13 ring, 27.5 mm."""
    kit = whole_kit([FULL], [Lens("55 mm", 55.0, 0.5)], [27.5])
    found, why = choices(kit, Subject(36.0, 1.0))
    assert [one.way.tube_mm for one in found] == [27.5]
    assert found[0].way.magnification == pytest.approx(1.0, rel=0.005)
    assert why == ""


def test_a_close_up_lens_frames_what_its_table_says():
    """N. Wright, +5 dioptre table: 100 mm at infinity with it draws 0.5, subject at 200 mm."""
    kit = whole_kit([FULL], [Lens("100 mm", 100.0, 0.001)], (), [5.0])
    found, _ = choices(kit, Subject(71.9, 2.0))
    assert found[0].way.close_up_dioptre == 5.0
    assert found[0].way.free_distance_mm == pytest.approx(200, rel=0.01)


def test_an_impossible_wish_says_what_would_make_it_possible():
    kit = whole_kit([FULL], [Lens("50 mm", 50.0, 0.31)], ())
    found, why = choices(kit, Subject(60.0, 8.0))
    assert found == []
    assert "0.31 life-size; 60 mm needs 0.60" in why
    assert "A 20 mm tube on 50 mm would bring 0.71." in why


def test_a_wish_for_room_names_the_most_room_there_is():
    kit = whole_kit([FULL], [Lens("50 mm", 50.0, 0.31)], [20.0])
    _, why = choices(kit, Subject(60.0, 8.0, 500.0))
    assert "500 mm" in why
    assert "133 mm" in why  # f (1 + 1/m) = 50 (1 + 1 / 0.6)


def test_of_ways_that_differ_by_their_tube_the_shortest_is_shown():
    kit = whole_kit([FULL], [Lens("90 mm", 90.0, 1.0)], [12.0, 20.0, 36.0])
    found, _ = choices(kit, Subject(36.0, 4.0))
    assert [one.way.tube_mm for one in found] == [0.0]


def test_every_choice_means_the_same_set_up_on_the_other_pages():
    kit = whole_kit(
        [FULL], [Lens("100 mm", 100.0, 1.0, 75.0), Lens("50 mm", 50.0, 0.15)], [36.0], [3.0], [1.4]
    )
    found, _ = choices(kit, Subject(24.0, 8.0))
    assert len(found) > 3
    for one in found:
        assert one.found.magnification == pytest.approx(one.way.magnification, rel=1e-6)
        light = one.way.effective_f_number / one.way.f_number
        assert one.found.effective_f_number == pytest.approx(light * one.ring_f_number, rel=1e-6)


def test_a_measured_lens_means_the_same_gap_on_every_page():
    """With a rim told, close-up lens at the rim: the solver and the pages agree on the gap."""
    lens = Lens("60 mm", 60.0, 0.4, None, pupil_magnification=0.8, principal_plane_to_rim_mm=18.0)
    kit = whole_kit([FULL], [lens], [12.0, 20.0], [3.0])
    found, _ = choices(kit, Subject(60.0, 4.0))
    assert {one.way.close_up_dioptre for one in found} == {0.0, 3.0}
    for one in found:
        assert one.found.magnification == pytest.approx(one.way.magnification, rel=1e-6)
        assert one.found.free_mm == pytest.approx(one.way.free_distance_mm, rel=1e-6)
        light = one.way.effective_f_number / one.way.f_number
        assert one.found.effective_f_number == pytest.approx(light * one.ring_f_number, rel=1e-6)


def test_the_rim_follows_from_one_ruler_and_the_gap_comes_back(sam):
    """At 1:1 a 100 mm lens has 200 mm before its plane; 148 mm measured put the rim at 52 mm."""
    item = KitItem(kind="lens", focal_length_mm=100, largest_ratio=1.0, free_at_closest_mm=148)
    assert item.rim_mm == pytest.approx(52.0)
    asked = Asked(focal_length_mm=100.0, f_number=8.0, sensor_width_mm=36.0, subject_depth_mm=10.0,
                  lens_magnification=1.0, rim_mm=item.rim_mm)  # fmt: skip
    assert what_if(asked).free_mm == pytest.approx(148)
    side = side_view(asked, what_if(asked))
    assert side.focus_x - side.rim_x == pytest.approx(148 * side.units_per_mm)
    assert side.rim_x - side.lens_x == pytest.approx(52 * side.units_per_mm)
    assert "148" in side.words or "150" in side.words
    assert "free from its rim" in side.words


def test_a_pupil_ratio_changes_the_light_and_nothing_else():
    """N (1 + m / p): at 1:1 and p = 0.5 f/8 works as f/24 (optics.md 1.2)."""
    common = {"focal_length_mm": 100.0, "f_number": 8.0, "sensor_width_mm": 36.0}
    common |= {"subject_depth_mm": 10.0, "lens_magnification": 1.0}
    plain, half = what_if(Asked(**common)), what_if(Asked(**common, pupil_ratio=0.5))
    assert half.effective_f_number == pytest.approx(24.0)
    assert (half.magnification, half.free_mm) == (plain.magnification, plain.free_mm)


def test_the_ladder_has_the_makers_numbers_of_ones_own_lenses(sam, as_person, bag):
    """A tube's length over the focal length is added: 12 on 50 mm bring 0.24 (maker's rule)."""
    page = as_person(sam).get("/plan/ladder/").content.decode()
    assert "A 50, 12 mm of tube" in page
    assert "0.24 to 0.55" in page  # 12/50, and 0.31 more at the nearest mark
    assert "A 50, 32 mm of tube" in page
    assert "A 50, close-up lens +4 <span" in page  # not in the bag: shown and said so
    assert "You have told of no such lens" in page  # no macro lens


def test_drawings_are_to_scale():
    asked = Asked(
        focal_length_mm=100.0,
        f_number=8.0,
        sensor_width_mm=36.0,
        subject_depth_mm=10.0,
        lens_magnification=1.0,
    )
    found = what_if(asked)
    side = side_view(asked, found)
    # at life-size a thin lens stands two focal lengths from either side
    assert side.sensor_to_lens_mm == pytest.approx(200)
    assert side.free_mm == pytest.approx(200)
    per_mm = side.units_per_mm
    assert side.lens_x - side.sensor_x == pytest.approx(200 * per_mm)
    assert side.back_x - side.front_x == pytest.approx(10 * per_mm)
    assert side.subject_height == pytest.approx(36 * per_mm)
    # the band of one frame's depth, about the plane of focus
    assert side.band_width == pytest.approx(max(found.depth_mm * per_mm, 1.5))
    assert side.band_x + side.band_width / 2 == pytest.approx(side.focus_x)
    assert side.bar_end - 14 == pytest.approx(side.bar_mm * per_mm)
    band = depth_band(asked, found)
    per_mm = band.subject_width / 10
    lefts = [left for left, _ in band.bands]
    assert len(lefts) == found.frames
    assert all(b - a == pytest.approx(found.step_mm * per_mm) for a, b in pairwise(lefts))
    assert lefts[0] <= band.subject_x
    assert lefts[-1] + band.bands[-1][1] >= band.subject_x + band.subject_width - 1e-6


def test_the_curves_least_blur_stands_at_the_best_f_number():
    asked = Asked(
        focal_length_mm=100.0,
        f_number=8.0,
        sensor_width_mm=36.0,
        subject_depth_mm=1.0,
        lens_magnification=1.0,
    )
    drawn = curves(asked)
    best = [row["stop"] for row in drawn.table if row["best"]]
    # sqrt(m^2 T / (16 W lambda)) / 2 = sqrt(1000 / 2.084) / 2 = f/11 on the ring
    assert best == ["f/11"]
    assert what_if(asked).best_f_number == pytest.approx(10.95, abs=0.02)


# --- the pages ---


@pytest.fixture
def bag(sam):
    make = KitItem.objects.create
    make(owner=sam, kind="body", name="A body", sensor_width_mm=36, sensor_height_mm=24)
    make(owner=sam, kind="lens", name="A 50", focal_length_mm=50, largest_ratio=0.31)
    return [make(owner=sam, kind="tube", length_mm=mm) for mm in (12, 20)]


def test_the_planner_answers_with_a_persons_own_kit(sam, as_person, bag):
    page = as_person(sam).get("/plan/?width_mm=60&depth_mm=5").content.decode()
    assert "A body, 20 mm of tube, A 50" in page
    assert page.count("<svg") == 2 * page.count('class="card way"')
    assert "Free in front" in page


def test_without_a_kit_it_asks_for_one(otto, as_person, bag):
    page = as_person(otto).get("/plan/?width_mm=60&depth_mm=5").content.decode()
    assert "Tell at least one body and one lens" in page
    assert "A 50" not in page


@pytest.mark.parametrize("width", ["nan", "inf", "-3", "0", "abc", "1e99", ""])
def test_nonsense_is_named_and_nothing_is_lost(sam, as_person, bag, width):
    answer = as_person(sam).get("/plan/", {"width_mm": width, "depth_mm": "5"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "This wide, mm" in page
    assert 'role="alert"' in page
    assert 'value="5"' in page


def test_kit_goes_in_and_out_and_is_nobody_elses(sam, noor, as_person):
    mine = as_person(sam)
    mine.post("/plan/kit/add/lens/", {"lens-name": "MP-E65mm f/2.8 1-5x Macro Photo"})
    lens = KitItem.objects.get()
    assert (lens.focal_length_mm, lens.largest_ratio) == (65, 5)  # known by its name
    assert as_person(noor).post(f"/plan/kit/{lens.pk}/remove/").status_code == 404
    assert "MP-E65mm" not in as_person(noor).get("/plan/kit/").content.decode()
    mine.post(f"/plan/kit/{lens.pk}/remove/")
    assert not KitItem.objects.exists()


def test_the_bag_is_filled_from_the_set_ups_once(sam, as_person):
    """Two set-ups of one lens are one lens, with the larger of the marks told."""
    common = {"owner": sam, "body": "A body", "sensor_width_mm": 17.3, "lens": "A macro"}
    common["focal_length_mm"] = 45
    KeptSetUp.objects.create(name="near", ring_magnification=0.8, tube_mm=12, **common)
    KeptSetUp.objects.create(name="far", ring_magnification=0.3, **common)
    KeptSetUp.objects.create(
        name="reversed", owner=sam, lens="Old", focal_length_mm=28, reversed=True
    )
    for _ in range(2):
        as_person(sam).post("/plan/kit/from-set-ups/")
    body, lens, tube = KitItem.objects.owned_by(sam)
    assert body.sensor_height_mm == pytest.approx(12.975)  # 4:3
    assert (lens.name, lens.largest_ratio, tube.length_mm) == ("A macro", 0.8, 12)


def test_a_lens_nobody_knows_needs_its_numbers(sam, as_person):
    page = as_person(sam).post("/plan/kit/add/lens/", {"lens-name": "Grandfather's"})
    assert "give it" in page.content.decode()
    assert not KitItem.objects.exists()
    assert as_person(sam).post("/plan/kit/add/tripod/").status_code == 404


def test_questions_do_not_grow_with_the_kit(sam, as_person, bag):
    client = as_person(sam)
    address = "/plan/?width_mm=60&depth_mm=5"
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    for k in range(8):
        KitItem.objects.create(
            owner=sam, kind="lens", name=f"L{k}", focal_length_mm=60 + k, largest_ratio=0.5
        )
    with CaptureQueriesContext(connection) as many:
        client.get(address)
    assert len(many) == len(few)


def test_a_set_up_fills_the_stack_plan_in(sam, noor, as_person):
    kept = KeptSetUp.objects.create(
        owner=sam, name="Rail", focal_length_mm=105, ring_magnification=1, sensor_width_mm=23.5
    )
    assert 'value="105"' in as_person(sam).get(f"/plan/stack/?set_up={kept.pk}").content.decode()
    assert (
        'value="105"' not in as_person(noor).get(f"/plan/stack/?set_up={kept.pk}").content.decode()
    )


def test_a_plan_is_kept_and_a_series_is_laid_beside_it(sam, noor, as_person, make_frame):
    client = as_person(sam)
    page = client.get(STACK).content.decode()
    assert "14 frames by rail" in page
    asked = dict(part.split("=") for part in STACK.split("?")[1].split("&"))
    answer = client.post("/plan/stack/", asked | {"name": "Seed head"})
    plan = KeptPlan.objects.get()
    assert answer.headers["Location"] == f"/plan/kept/{plan.pk}/"
    series = Series.objects.of_frames(owner=sam, kind="stack", frames=[make_frame(sam)])
    client.post(f"/plan/kept/{plan.pk}/beside/", {"series": series.pk})
    series.refresh_from_db()
    assert series.told["planned_step_mm"] == pytest.approx(0.692, abs=0.001)
    assert series.told["planned_frames"] == 14
    shown = client.get(f"/plan/kept/{plan.pk}/").content.decode()
    assert "can&#x27;t tell" in shown  # the step of a series nobody has measured yet
    assert as_person(noor).get(f"/plan/kept/{plan.pk}/").status_code == 404
    assert as_person(noor).post(f"/plan/kept/{plan.pk}/forget/").status_code == 404


def test_a_series_of_someone_else_is_not_laid_beside(sam, noor, as_person, make_frame):
    plan = KeptPlan.objects.create(owner=sam, name="Mine", found={"frames": 3, "step_mm": 1.0})
    theirs = Series.objects.of_frames(owner=noor, kind="stack", frames=[make_frame(noor)])
    as_person(sam).post(f"/plan/kept/{plan.pk}/beside/", {"series": theirs.pk})
    theirs.refresh_from_db()
    assert theirs.told == {}


def test_a_stack_of_impossible_numbers_is_refused_in_words(sam, as_person):
    page = as_person(sam).get(STACK.replace("lens_magnification=1", "lens_magnification=0"))
    assert "A lens at infinity frames nothing near" in page.content.decode()
    tiny = as_person(sam).get(
        "/plan/landscape/?focal_length_mm=400&f_number=1&sensor_width_mm=36&near_m=0.3"
    )
    assert "close-up work" in tiny.content.decode()


def test_the_blur_table_is_the_one_optics_uses(sam, as_person):
    page = as_person(sam).get("/plan/what-if/").content.decode()
    held = page.split('data-blur-table="')[1].split('"')[0]
    waves, discs = json.loads(held)
    assert len(waves) == len(discs) > 400
    assert discs[0] == pytest.approx(1.745, abs=0.001)  # diffraction alone, in wavelengths times N

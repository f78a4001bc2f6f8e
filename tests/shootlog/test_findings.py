"""The same questions put to every finding in the folder; then each one's own truth.

Published numbers name their source beside them. Lines that say "common practice, no source" are
what teachers do, and the instructor may move them.
"""

import re
from pathlib import Path

import pytest

from shootlog import findings
from shootlog.findings import all_findings, examine
from shootlog.findings.base import SURE_WORDS, Outcome
from shootlog.findings.samples import sample
from shootlog.main_point import main_point
from shootlog.reading import QUANTITIES, Quantity, Reading
from shootlog.wording import unwanted_words

EVERY = list(all_findings().values())
FIXED_SLUGS = {
    "diffraction", "thin-depth", "shake", "missed-focus", "burnt-highlights", "blocked-shadows",
    "high-iso", "stripped-file", "edited-file", "digital-zoom", "already-merged", "subject-moved",
}  # fmt: skip


@pytest.fixture(params=EVERY, ids=[one.slug for one in EVERY])
def finding(request):
    return request.param


def test_the_fixed_slugs_are_there():
    assert set(all_findings()) >= FIXED_SLUGS


def test_file_is_named_after_its_finding(finding):
    file = Path(findings.__path__[0]) / f"{finding.slug.replace('-', '_')}.py"
    assert type(finding).__module__ == f"shootlog.findings.{file.stem}"


def test_fires_on_its_sample(finding):
    outcome = finding.examine(finding.fires_on)
    assert outcome.answer == "yes"
    assert outcome.sure in ("measured", "told", "likely")
    assert outcome.numbers


def test_is_quiet_on_its_sample(finding):
    assert finding.examine(finding.quiet_on).answer == "no"


def test_cannot_tell_from_nothing(finding):
    outcome = finding.examine(Reading())
    assert (outcome.answer, outcome.sure) == ("cannot tell", "cannot tell")
    assert outcome.words
    assert not outcome.remedy


def without(reading, name):
    return Reading(
        {k: v for k, v in reading.quantities.items() if k != name},
        {k: v for k, v in reading.facts.items() if k != name},
    )


def test_a_missing_number_is_never_a_yes_that_was_not_there(finding):
    """Delete what a quiet reading knows, piece by piece: it must not become a finding."""
    for name in [*finding.quiet_on.quantities, *finding.quiet_on.facts]:
        if finding.slug == "stripped-file":
            continue  # what is missing is its very question; see its own test
        assert finding.examine(without(finding.quiet_on, name)).answer != "yes", name


def test_a_needed_number_missing_means_cannot_tell(finding):
    for name in [*finding.needs, *finding.needs_facts]:
        assert finding.examine(without(finding.fires_on, name)).answer == "cannot tell", name


def joined(finding):
    """Ranges from the sample that stays quiet to the one that fires."""
    ranges = {}
    for name in finding.needs:
        a, b = finding.fires_on[name], finding.quiet_on[name]
        ranges[name] = Quantity(None, min(a.low, b.low), max(a.high, b.high), "measured")
    return ranges


#: The others ask facts, which have no range, or their samples differ in what is optional: those
#: have tests of their own below.
ACROSS_A_LINE = [one for one in EVERY if any(q.low < q.high for q in joined(one).values())]


def test_findings_by_a_line_are_most_of_them():
    assert len(ACROSS_A_LINE) >= len(EVERY) - 4


@pytest.mark.parametrize("finding", ACROSS_A_LINE, ids=[one.slug for one in ACROSS_A_LINE])
def test_a_range_across_the_line_is_cannot_tell(finding):
    """Join the samples that fire and stay quiet into ranges: the answer hangs in the balance."""
    fires = finding.fires_on
    outcome = finding.examine(Reading({**fires.quantities, **joined(finding)}, fires.facts))
    assert outcome.answer != "no"
    assert outcome.answer == "cannot tell" or finding.slug == "burnt-highlights"


def test_words_are_filled_and_kind(finding):
    outcome = finding.examine(finding.fires_on)
    for text in [outcome.words, outcome.remedy, *outcome.steps, finding.title, finding.why]:
        assert text
        assert "{" not in text
        assert "nan" not in text.split()
        assert unwanted_words(text) == []
        assert not text.endswith("!")  # the machine neither cheers nor scolds
        for sentence in re.split(r"(?<=[.:;?])\s+", text):
            assert len(sentence.split()) <= 22, sentence  # teaching rule R19


def test_the_number_comes_before_any_adjective(finding):
    """A finding with a number states it within its first words."""
    outcome = finding.examine(finding.fires_on)
    if finding.needs:
        assert re.search(r"\d", " ".join(outcome.words.split()[:3])), outcome.words


def test_remedy_begins_with_a_verb(finding):
    verbs = {"Try", "Take", "Send", "Brace", "Set", "Use", "Zoom", "Fix", "Hold", "Put"}
    verbs |= {"Move", "Turn", "Wait", "Clean", "Shoot", "Tap", "Lift", "Blow", "Switch"}
    outcome = finding.examine(finding.fires_on)
    assert outcome.remedy.split()[0] in verbs


def test_limit_is_among_the_numbers_and_may_be_moved(finding):
    outcome = finding.examine(finding.fires_on)
    if "limit" not in outcome.numbers:
        assert not finding.limit_means
        return
    assert finding.limit_means
    again = finding.with_limit(outcome, min(outcome.numbers["limit"]), finding.fires_on)
    assert again.answer == "yes"
    answers = {finding.examine(finding.fires_on, line).answer for line in (1e-9, 1e9)}
    if "smear_px" not in outcome.numbers:
        assert "no" in answers


def test_outcome_is_kept_and_read_back(finding):
    outcome = finding.examine(finding.fires_on)
    again = Outcome.from_json(outcome.as_json())
    assert again.as_json() == outcome.as_json()
    assert again.sure_words in SURE_WORDS.values()


def test_needs_are_quantities_that_exist(finding):
    assert set(finding.needs) <= set(QUANTITIES)


# each one's own truth


def test_an_unknown_habit_gives_a_range_and_no_accusation():
    """f/16 in the file at life size: f/16 or f/32 at the sensor, on both sides of f/22."""
    reading = sample(effective_f_number=(16.0, 32.0), coc_um=28.8)
    assert all_findings()["diffraction"].examine(reading).answer == "cannot tell"


def test_blur_on_purpose_is_no_shake_without_being_told():
    """A long exposure of unknown support is asked about, never stated (R20, R21)."""
    slow = sample("recorded", exposure_s=0.5, shake_limit_s=1 / 200)
    outcome = all_findings()["shake"].examine(slow)
    assert outcome.answer == "cannot tell"
    assert "tripod" in outcome.words


@pytest.mark.parametrize("support", ["tripod", "bag", "rail"])
def test_support_told_is_never_shake_by_the_time_alone(support):
    slow = sample("recorded", exposure_s=0.2, shake_limit_s=1 / 200, support=support)
    assert all_findings()["shake"].examine(slow).answer == "cannot tell"


def test_flash_may_have_held_the_picture():
    lit = sample(
        "recorded", exposure_s=1 / 60, shake_limit_s=1 / 200, support="hand", flash_fired=True
    )
    assert all_findings()["shake"].examine(lit).answer == "cannot tell"


def test_pixels_outrank_the_exposure_time():
    shake = all_findings()["shake"]
    facts = {"support": "hand", "exposure_s": 1 / 30, "shake_limit_s": 1 / 200}
    still = sample(smear_px=(0.0, 1.5), smear_where="frame", **facts)
    assert shake.examine(still).answer == "no"
    moved = sample(smear_px=(9.0, 12.0), smear_where="frame", **(facts | {"exposure_s": 1 / 500}))
    assert shake.examine(moved).answer == "yes"
    assert shake.examine(moved).sure == "measured"


def test_slow_by_hand_is_cleared_by_a_crisp_picture_and_suspected_by_a_soft_one():
    shake = all_findings()["shake"]
    slow = {"support": "hand", "exposure_s": 1 / 5, "shake_limit_s": 1 / 100}
    assert shake.examine(sample(crisp_px=0.0, soft_way_px=0.8, **slow)).answer == "no"
    soft = shake.examine(sample(crisp_px=4.0, soft_way_px=6.0, smear_alike=0.5, **slow))
    assert (soft.answer, soft.sure) == ("yes", "likely")
    out_of_focus = sample(crisp_px=4.0, soft_way_px=6.0, smear_alike=0.1, **slow)
    assert shake.examine(out_of_focus).answer == "cannot tell"
    streaks = sample(
        crisp_px=0.0, soft_way_px=5.0, smear_px=(0.0, 9.0), smear_where="maybe", **slow
    )
    assert (shake.examine(streaks).answer, shake.examine(streaks).sure) == ("yes", "likely")
    between = sample(crisp_px=0.5, soft_way_px=3.0, smear_alike=0.5, **slow)
    assert shake.examine(between).answer == "cannot tell"
    drawn_twice = sample(crisp_px=0.0, soft_way_px=0.8, smear_alike=0.5, **slow)
    assert shake.examine(drawn_twice).answer == "cannot tell"


def test_softness_of_the_opening_is_not_held_against_the_hand():
    slow = {"support": "hand", "exposure_s": 1 / 5, "shake_limit_s": 1 / 100}
    light = {"diffraction_blur_um": 20.0, "file_pixel_um": 5.0}
    reading = sample(crisp_px=3.6, soft_way_px=4.8, **slow, **light)
    assert all_findings()["shake"].examine(reading).answer == "no"


def test_on_a_tripod_a_smear_of_most_of_the_frame_may_be_the_subject():
    shake = all_findings()["shake"]
    facts = {"smear_px": (7.0, 12.0), "smear_where": "frame", "support": "tripod"}
    assert shake.examine(sample(smear_share=0.85, **facts)).answer == "cannot tell"
    assert shake.examine(sample(smear_share=1.0, **facts)).answer == "yes"


def test_a_moved_subject_is_not_a_moved_camera():
    petal = sample(
        smear_px=(9.0, 12.0), smear_where="subject", exposure_s=1 / 500, shake_limit_s=1 / 200
    )
    assert all_findings()["shake"].examine(petal).answer != "yes"


def test_dew_is_not_burnt_out():
    """Glints as large as the clipping itself: specular dew (R20)."""
    dew = sample(clipped_share=0.03, glint_share=0.028, clipped_in_sharp_share=0.04)
    assert all_findings()["burnt-highlights"].examine(dew).answer == "no"


def test_a_small_subject_burnt_in_its_sharp_part_is_burnt_though_little_of_the_frame():
    burnt = all_findings()["burnt-highlights"]
    sheen = {"clipped_share": 0.004, "glint_share": 0.0}
    assert burnt.examine(sample(clipped_in_sharp_share=0.05, **sheen)).answer == "yes"
    assert burnt.examine(sample(clipped_in_sharp_share=0.02, **sheen)).answer == "no"


def test_a_black_ground_may_be_meant_and_a_black_side_is_asked_about():
    blocked = all_findings()["blocked-shadows"]
    ground = sample(blocked_share=0.6, blocked_inside_share=0.01)
    assert blocked.examine(ground).answer == "cannot tell"
    side = blocked.examine(sample(blocked_share=0.1, blocked_inside_share=0.08))
    assert (side.answer, side.sure) == ("yes", "likely")
    assert blocked.examine(sample(blocked_share=0.01, blocked_inside_share=0.0)).answer == "no"


def test_a_slow_frame_soft_in_one_place_may_have_moved_there():
    missed = all_findings()["missed-focus"]
    soft = {"sharp_share": 0.2, "wanted_sharp_share": 0.0}
    assert missed.examine(sample(exposure_s=1 / 125, **soft)).answer == "yes"
    slow = missed.examine(sample(exposure_s=0.5, **soft))
    assert slow.answer == "cannot tell"
    assert "moved" in slow.words
    assert missed.examine(sample(exposure_s=0.5, flash_fired=True, **soft)).answer == "yes"


def test_a_white_table_may_be_meant():
    table = sample(clipped_share=0.4, glint_share=0.0, clipped_in_sharp_share=0.0)
    assert all_findings()["burnt-highlights"].examine(table).answer == "cannot tell"


def test_a_manual_lens_is_no_stripped_file():
    """No f-number, no focal length, but the exposure: an original all the same."""
    manual = sample(file_type="JPEG", has_exif=True, has_exposure=True, make="A")
    assert all_findings()["stripped-file"].examine(manual).answer == "no"


def test_a_merged_picture_is_asked_neither_depth_nor_shake():
    thin = all_findings()["thin-depth"]
    merged = Reading(thin.fires_on.quantities, {"composite": "stacked"})
    assert thin.examine(merged).answer == "cannot tell"


@pytest.mark.parametrize(
    ("coc_um", "marked", "count", "step"),
    [(30, 4, 24, 0.36), (30, 5.6, 17, 0.50), (30, 8, 13, 0.72), (30, 11, 10, 0.99),
     (20, 4, 35, 0.24), (20, 8, 18, 0.48), (15, 4, 46, 0.18), (15, 11, 18, 0.50)],
)  # fmt: skip
def test_thin_depth_offers_the_slices_that_courses_print(coc_um, marked, count, step):
    """8 mm at 1:1, a quarter overlapping: the trade's stack table (common practice, no source)."""
    reading = sample(
        depth_of_field_mm=2 * coc_um / 1000 * marked * 2, subject_depth_mm=8.0, magnification=1.0,
        marked_f_number=float(marked), effective_f_number=2.0 * marked, coc_um=float(coc_um),
    )  # fmt: skip
    outcome = all_findings()["thin-depth"].examine(reading)
    assert outcome.numbers["slices"] == (count,)
    assert outcome.numbers["step_mm"][0] == pytest.approx(step, abs=0.006)


def test_standing_back_as_far_as_said_is_enough():
    """The magnification offered, put into 2 N c (1 + m) / m^2, gives the subject's depth."""
    thin = all_findings()["thin-depth"]
    back = thin.far_enough(thin.fires_on, 5.0)
    assert 2 * 2.8 * 0.030 * (1 + back) / back**2 == pytest.approx(5.0, rel=1e-9)


@pytest.mark.parametrize(
    "software",
    ["Ver.1.00", "Firmware Version 1.0.2", "1.10", "17.5.1", "A105FNXXU4ATI1", "HDR+ 1.0.3",
     "Digital Camera FinePix F550EXR Ver1.00"],
)  # fmt: skip
def test_firmware_is_no_trace_of_an_edit(software):
    quiet = all_findings()["edited-file"].quiet_on
    reading = Reading(quiet.quantities, {**quiet.facts, "software": software})
    assert all_findings()["edited-file"].examine(reading).answer == "no"


def test_one_weak_trace_leaves_the_question_open():
    quiet = all_findings()["edited-file"].quiet_on
    reading = Reading(quiet.quantities, {**quiet.facts, "software": "Invented Darkroom"})
    assert all_findings()["edited-file"].examine(reading).answer == "cannot tell"


def test_softness_everywhere_is_said_with_its_own_number():
    missed = all_findings()["missed-focus"]
    outcome = missed.examine(sample(sharp_share=0.11, blur_px=15.0, smear_px=0.0))
    assert outcome.answer == "yes"
    assert outcome.words.startswith("15 pixels")
    moved = sample(sharp_share=0.0, blur_px=15.0, smear_px=12.0)
    assert missed.examine(moved).answer == "cannot tell"
    white = sample(sharp_share=0.11, blur_px=15.0, smear_px=0.0, clipped_share=0.98)
    assert missed.examine(white).answer == "cannot tell"


# one main point (R1)


def outcome(slug, sure="measured"):
    about = all_findings()[slug]
    return Outcome(slug, "yes", sure, {}, "words", "Try it.", (), about.topic)


def test_one_main_point_and_at_most_two_beside():
    points = main_point([outcome(slug) for slug in sorted(FIXED_SLUGS)])
    assert points.main is not None
    assert len(points.beside) == 2


def test_nothing_found_says_nothing():
    assert main_point(examine(Reading())).main is None


def test_this_weeks_brief_comes_first():
    said = [outcome("shake"), outcome("diffraction")]
    assert main_point(said).main.finding == "shake"  # it changes the picture more
    assert main_point(said, {"diffraction"}).main.finding == "diffraction"


def test_the_surer_comes_before_the_likely():
    said = [outcome("shake", "likely"), outcome("diffraction")]
    assert main_point(said).main.finding == "diffraction"


def test_a_lost_original_comes_before_everything():
    said = [outcome("shake"), outcome("stripped-file")]
    assert main_point(said, {"shake"}).main.finding == "stripped-file"


def test_untaught_topics_wait_but_file_trouble_does_not():
    said = [outcome("diffraction"), outcome("edited-file", "likely")]
    assert main_point(said, taught={"shake"}).main.finding == "edited-file"
    assert main_point(said, taught={"shake"}).beside == ()

"""The field card: the same words on the page and on paper, true millimetres, nobody else's."""

import io
import json
import re
from datetime import timedelta
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pypdf import PdfReader
from pypdf.generic import ContentStream

from course.field_card import asked_of, numbers_block
from course.models import Criterion, Enrolment, Lesson, Meeting
from course.plain_text import blocks, lines
from shootlog.models import KeptPlan, KeptSetUp
from shootlog.set_up import SetUp
from shootlog.what_if import what_if
from tests.published import rows

MM = 72 / 25.4  # ISO 32000: a user space unit is 1/72 inch
SIZES_MM = {"a6": (105, 148), "a5": (148, 210), "a4": (210, 297)}  # ISO 216


@pytest.fixture
def full_card(exercise, group, sam):
    """A week with everything a card can say; words with signs that many types lack."""
    exercise.text = (
        "A seed head, *whole*. See [the lesson](/lesson/1/).\n\n- Ring fixed\n- Body moves"
    )
    exercise.subject_depth_mm = 8.0
    exercise.cautions = "Lamps burn. Łódź, µm, 中."
    exercise.save()
    Criterion.objects.create(
        exercise=exercise, kind="quantity", quantity="magnification", low=0.9, high=1.15
    )
    starts = timezone.now() + timedelta(days=2)
    Meeting.objects.create(
        group=group, starts_at=starts, ends_at=starts + timedelta(hours=3), place="The pond",
        tide="low 06:40, 0.9 m", sun="up 05:12", wind="calm until nine", safety="Pairs near water.",
    )  # fmt: skip
    KeptSetUp.objects.create(
        owner=sam, name="90 on the rail", focal_length_mm=90, ring_magnification=1,
        sensor_width_mm=36,
    )  # fmt: skip
    return exercise


def words_of_page(client, group):
    page = client.get(f"/card/{group.pk}/").content.decode()
    card = page.split('id="card">')[1].split("</article>")[0]
    return squeezed(unescape(re.sub(r"<[^>]*>", " ", card)))


def words_of_paper(data):
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
    # what belongs to the leaf and not to the card: the edge's label, and which leaf it is
    text = re.sub(r"Leaf \d+ of \d+ · .*", " ", text)
    return squeezed(text.replace("50 mm: print at 100 %, lay a ruler here", " "))


def squeezed(text):
    """Without any blanks: where lines break is the paper's business."""
    return re.sub(r"\s", "", re.sub(r"Made\s+\d+\s+\w+\s+\d+,\s+\d+:\d+", "", text))


@pytest.mark.parametrize("size", ["a6", "a5"])
@pytest.mark.parametrize("points", [14, 18])
def test_paper_says_what_the_page_says(full_card, group, sam, as_person, size, points):
    client = as_person(sam)
    answer = client.get(f"/card/{group.pk}/{size}-{points}pt.pdf")
    assert answer.headers["Content-Type"] == "application/pdf"
    # a sign no type here has is printed as ?
    assert words_of_paper(answer.content) == words_of_page(client, group).replace("中", "?")


@pytest.mark.parametrize("size", ["a6", "a5"])
def test_paper_has_its_size_and_its_type(full_card, group, sam, as_person, size):
    for points in (14, 18):
        data = as_person(sam).get(f"/card/{group.pk}/{size}-{points}pt.pdf").content
        reader = PdfReader(io.BytesIO(data))
        for page in reader.pages:
            box = page.mediabox
            wanted = [side * MM for side in SIZES_MM[size]]
            assert [float(box.width), float(box.height)] == pytest.approx(wanted, abs=0.5)
        sizes = {
            float(operands[1])
            for operands, operator in operations(reader.pages[0])
            if operator == b"Tf"
        }
        # 8 pt is the note on the edge; 12 is what the library writes before the first line
        assert min(sizes - {8.0, 12.0}) == points


def lines_drawn(page):
    """Every stroke's ends in points, in the page's own space."""
    at, found = None, []
    for operands, operator in operations(page):
        if operator == b"m":
            at = [float(v) for v in operands]
        elif operator == b"l" and at:
            found.append((*at, *[float(v) for v in operands]))
    return found


def operations(page):
    return ContentStream(page.get_contents(), page.pdf).operations


def test_fifty_millimetres_are_fifty_millimetres(full_card, group, sam, as_person):
    data = as_person(sam).get(f"/card/{group.pk}/a6-14pt.pdf").content
    for page in PdfReader(io.BytesIO(data)).pages:
        drawn = lines_drawn(page)
        upright = [abs(y2 - y1) for x1, y1, x2, y2 in drawn if x1 == x2]
        assert upright == [pytest.approx(141.73, abs=0.01)]
        ticks = sorted(y1 for x1, y1, x2, y2 in drawn if y1 == y2 and x1 == 0)
        assert len(ticks) == 129  # 148 mm less ten at either end, both ends counted
        assert ticks[50] - ticks[0] == pytest.approx(141.73, abs=0.01)


def test_paper_is_black_only(full_card, group, sam, as_person):
    data = as_person(sam).get(f"/card/{group.pk}/a5-14pt.pdf").content
    for page in PdfReader(io.BytesIO(data)).pages:
        for operands, operator in operations(page):
            assert operator not in (b"k", b"K", b"sc", b"SC", b"scn", b"SCN")
            if operator in (b"g", b"G", b"rg", b"RG"):
                assert {float(v) for v in operands} == {0.0}


def test_the_square_code_leads_back_to_the_exercise(full_card, group, sam, as_person):
    page = as_person(sam).get(f"/card/{group.pk}/").content.decode()
    assert f"http://testserver/exercise/{full_card.pk}/" in page
    assert "data:image/svg+xml" in page


def test_numbers_are_this_persons(full_card, group, sam, noor, as_person):
    mine = words_of_page(as_person(sam), group)
    # 1:1 at f/8: f/16, two stops, depth 2 * 16 * 0.02884 = 0.92 mm; eight in twelve slices
    assert "f/8ontheringworksasf/16,2.0stopsdarker" in mine
    assert "0.92mmdeep;8mmtakes12slices,0.69mmapart" in mine
    theirs = words_of_page(as_person(noor), group)
    assert "90ontherail" not in theirs
    assert "Tellyourset-up" in theirs


def test_a_card_of_another_group_is_not_there(full_card, group, otto, greta, as_person):
    for person in (otto, greta):
        for path in (f"/card/{group.pk}/", f"/card/{group.pk}/a6-14pt.pdf"):
            assert as_person(person).get(path).status_code == 404


def test_only_those_who_teach_print_everyones(full_card, group, ines, sam, noor, as_person):
    path = f"/card/{group.pk}/a6-14pt.pdf?for=everyone"
    assert as_person(sam).get(path).status_code == 404
    words = words_of_paper(as_person(ines).get(path).content)
    assert "Sam·Springgroup" in words
    assert "Noor·Springgroup" in words
    assert "90ontherail" in words


@pytest.mark.parametrize("name", ["a3-14pt", "a6-15pt", "a6-0pt", "letter-14pt"])
def test_other_papers_are_not_there(full_card, group, sam, as_person, name):
    assert as_person(sam).get(f"/card/{group.pk}/{name}.pdf").status_code == 404


def test_everyones_cards_take_the_same_queries(full_card, group, ines, sam, as_person, make_person):
    client = as_person(ines)
    path = f"/card/{group.pk}/a6-14pt.pdf?for=everyone"
    client.get(path)
    with CaptureQueriesContext(connection) as few:
        client.get(path)
    for k in range(6):
        person = make_person(f"more{k}")
        Enrolment.objects.create(group=group, user=person)
        KeptSetUp.objects.create(owner=person, name="One", focal_length_mm=60)
        KeptPlan.objects.create(owner=person, name="Two", found={"frames": 3, "step_mm": 1.0})
    with CaptureQueriesContext(connection) as many:
        client.get(path)
    assert len(many) == len(few)


def test_a_handout_holds_lesson_brief_and_numbers(full_card, week, group, sam, otto, as_person):
    text = "## Step by step\n\nOne *plain* line.\n\n1. First\n2. Second\n\n<script>x</script>"
    lesson = Lesson.objects.create(week=week, title="Slices", text=text)
    week.course.glossary = "line: a row of words\nunused: never said"
    week.course.save()
    for size, points in [("a4", 18), ("a5", 14)]:
        path = f"/lesson/{lesson.pk}/handout-{size}-{points}pt.pdf"
        data = as_person(sam).get(path).content
        words = words_of_paper(data)
        for said in ("Slices", "Stepbystep", "Oneplainline.", "1.First", "2.Second", "90ontherail"):
            assert said in words
        assert "WordsusedhereLine:arowofwords" in words
        assert "neversaid" not in words
        box = PdfReader(io.BytesIO(data)).pages[0].mediabox
        assert float(box.width) == pytest.approx(SIZES_MM[size][0] * MM, abs=0.5)
        assert as_person(otto).get(path).status_code == 404


@pytest.mark.parametrize(
    "words",
    [
        "<b>&amp;</b> <para>",
        "x" * 3000,
        "word " * 2000,
        "\u202e\x0b\x1b 🐞 \ud7ff",
        "| a |\n|---|\n" * 40,
        "> " * 90,
    ],
)
def test_no_words_of_a_brief_break_the_paper(full_card, group, sam, as_person, words):
    full_card.text = words
    full_card.title = words[:120]
    full_card.save()
    data = as_person(sam).get(f"/card/{group.pk}/a6-18pt.pdf").content
    assert "comefirst." in words_of_paper(data)


def leaf_lines(data):
    pages = PdfReader(io.BytesIO(data)).pages
    return [re.findall(r"Leaf \d+ of \d+ · .*", page.extract_text()) for page in pages]


def test_every_leaf_says_which_of_how_many_it_is_and_whose(
    full_card, group, ines, sam, noor, as_person
):
    full_card.text = "word " * 300
    full_card.save()
    data = as_person(ines).get(f"/card/{group.pk}/a6-18pt.pdf?for=everyone").content
    said = [line for (line,) in leaf_lines(data)]
    for name in ("Sam", "Noor"):
        own = [line for line in said if line.endswith(name)]
        assert own == [f"Leaf {k} of {len(own)} · {name}" for k in range(1, len(own) + 1)]
        assert len(own) > 2


def test_a_single_leaf_needs_no_number(group, sam, as_person):
    assert leaf_lines(as_person(sam).get(f"/card/{group.pk}/a5-14pt.pdf").content) == [[]]


def test_a_group_with_an_empty_week_still_has_a_card(group, sam, as_person):
    assert "Your numbers" in as_person(sam).get(f"/card/{group.pk}/").content.decode()
    assert as_person(sam).get(f"/card/{group.pk}/a6-18pt.pdf").status_code == 200


def test_one_group_is_the_card_itself_and_none_says_so(full_card, sam, otto, as_person):
    assert "90 on the rail" in as_person(sam).get("/card/").content.decode()
    assert "no group yet" in as_person(otto).get("/card/").content.decode()


# --- the plain words and the numbers, without a page ---


def test_markdown_is_read_as_plain_lines():
    text = (
        "# A\n\nOne **two** `three`\nfour\n\n- x\n  1. y\n  2. z\n\n| a | b |\n|---|---|\n| 1 | 2 |"
    )
    assert lines(text) == ["A", "One two three four", "– x", "1. y", "2. z", "a · b", "1 · 2"]
    assert [b.kind for b in blocks("![Light from the side](pictures/a.svg)")] == ["paragraph"]
    assert lines("![Light](pictures/a.svg)") == ["(Drawing: Light)"]


@pytest.mark.parametrize("row", rows("magnification", "magnification_with_extension_tube"))
def test_the_card_says_of_a_tube_what_its_maker_prints(row):
    told = json.loads(row["inputs"])
    set_up = SetUp.from_mapping(
        {
            "focal_length_mm": told["focal_length_mm"],
            "ring_magnification": told["magnification_without_tube"],
            "tube_mm": told["tube_length_mm"],
            "sensor_width_mm": 36.0,
        }
    )
    first = numbers_block([("Mine", set_up, None)], None).lines[0]
    said = float(re.search(r"([\d.]+) times life-size", first)[1])
    # the card writes two figures: half a unit of the second is at most five per cent
    assert said == pytest.approx(float(row["value"]), rel=max(0.05, float(row["rel_tol"])))


@pytest.mark.parametrize("row", rows("magnification", "magnification_with_close_up_lens"))
def test_the_card_says_of_a_close_up_lens_what_its_table_prints(row):
    told = json.loads(row["inputs"])
    set_up = SetUp.from_mapping(
        {
            "focal_length_mm": told["focal_length_mm"],
            "ring_magnification": told["magnification_without"],
            "close_up_dioptre": told["close_up_power_dpt"],
            "sensor_width_mm": 36.0,
        }
    )
    first = numbers_block([("Mine", set_up, None)], None).lines[0]
    said = float(re.search(r"([\d.]+) times life-size", first)[1])
    assert said == pytest.approx(float(row["value"]), rel=max(0.05, float(row["rel_tol"])))


def test_a_ruler_frame_goes_before_what_was_told():
    told = {"focal_length_mm": 100, "tube_mm": 20, "sensor_width_mm": 36, "ring_magnification": 0.5}
    measured = SetUp.from_mapping(told | {"ruler_magnification": 0.8})
    assert what_if(asked_of(measured, 8, 5)).magnification == pytest.approx(0.8)
    only_told = SetUp.from_mapping(told)
    assert what_if(asked_of(only_told, 8, 5)).magnification == pytest.approx(0.7)


def test_a_close_up_lens_under_a_ruler_frame_costs_no_light():
    """At infinity: m = f / f_c = 0.5 with +5 on 100 mm, and the f-number stays (optics.md 1.5)."""
    set_up = SetUp.from_mapping(
        {"focal_length_mm": 100, "close_up_dioptre": 5, "sensor_width_mm": 36,
         "ruler_magnification": 0.5}
    )  # fmt: skip
    found = what_if(asked_of(set_up, 8, 5))
    assert found.magnification == pytest.approx(0.5)
    assert found.effective_f_number == pytest.approx(8.0)


@pytest.mark.parametrize(
    "told",
    [
        {},
        {"focal_length_mm": 50, "sensor_width_mm": 36},
        {"reversed": True, "focal_length_mm": 50, "ring_magnification": 1, "sensor_width_mm": 36},
        {"ruler_magnification": 0.1, "tube_mm": 50, "focal_length_mm": 50, "sensor_width_mm": 36},
    ],
)
def test_what_cannot_be_known_is_said_and_not_guessed(told):
    block = numbers_block([("Mine", SetUp.from_mapping(told), None)], 5.0)
    assert block.lines == ["Mine: its ratio is not told. A ruler frame settles it."]


def test_an_own_best_aperture_is_said_to_be_ones_own():
    told = {"focal_length_mm": 90, "ring_magnification": 1.0, "sensor_width_mm": 36}
    set_up = SetUp.from_mapping(told)
    own = numbers_block([("Mine", set_up, 5.6)], 5.0).lines
    assert "f/5.6 on the ring, your own best, works as f/11, 2.0 stops darker." in own
    usual = numbers_block([("Mine", set_up, None)], 5.0).lines
    assert "f/8 on the ring works as f/16, 2.0 stops darker." in usual

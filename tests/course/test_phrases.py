"""A teacher's own sentences, with this print's numbers in them."""

import pytest

from course.brief import judge
from course.brief_rows import Criterion
from course.models import Phrase
from course.phrases import numbers_of, offered, strange_numbers
from shootlog.findings import all_findings, examine
from shootlog.findings.samples import sample

DIFFRACTION = all_findings()["diffraction"].fires_on
SMALL = sample(magnification=0.27)


def words(*phrases, outcomes=(), verdicts=()):
    return [one.words for one in offered(phrases, outcomes, verdicts)]


def test_a_finding_fills_its_numbers_as_it_writes_them_itself():
    """f/44 through a perfect lens: the Airy disc is 2.44 x 0.55 x 44 = 59 µm wide."""
    said = words(
        ("diffraction", "Yours worked as {effective}; a hair is drawn {airy_um} µm wide."),
        ("shake", "It moved."),
        ("any", "Lean, do not turn."),
        outcomes=examine(DIFFRACTION),
    )
    assert said == [
        "Yours worked as f/44; a hair is drawn 59 µm wide.",
        "Lean, do not turn.",
    ]


def test_a_verdict_fills_in_what_came_out_and_what_was_asked():
    row = Criterion(kind="quantity", quantity="magnification", low=0.4, high=0.6)
    tripod = Criterion(kind="need", need="tripod")
    verdicts = [v.as_json() for v in judge([row, tripod], SMALL, [])]
    said = words(
        ("not-yet", "You are at {came}; go nearer until it is {asked}."),
        ("cant-tell", "{what}: tell me, please."),
        ("cant-tell", "I see {came} here."),  # a tripod has no number: not offered
        ("met", "Lovely work on {what}."),
        verdicts=verdicts,
    )
    assert said == [
        "You are at 0.27; go nearer until it is 0.40 to 0.60.",
        "Tripod: tell me, please.",
    ]


@pytest.mark.parametrize("slug", all_findings())
def test_every_number_a_finding_knows_can_be_said(slug):
    about = all_findings()[slug]
    outcome = about.examine(about.fires_on)
    for name in numbers_of(slug):
        (said,) = words((slug, f"It is {{{name}}}."), outcomes=[outcome])
        assert "{" not in said


def test_a_number_nobody_has_is_named_when_the_phrase_is_kept(ines, as_person):
    assert strange_numbers("diffraction", "{effective} {speed}") == ["speed"]
    sent = {"about": "diffraction", "words": "It was {speed}."}
    page = as_person(ines).post("/phrases/", sent).content.decode()
    assert "Nothing fills in {speed} there. The numbers are: {limit}, {effective}" in page
    assert not Phrase.objects.exists()
    as_person(ines).post("/phrases/", {"about": "diffraction", "words": "It was {effective}."})
    assert "It was {effective}." in as_person(ines).get("/phrases/").content.decode()


def test_a_phrase_is_written_anew_by_its_author_alone(ines, arno, as_person):
    phrase = Phrase.objects.create(author=ines, about="any", words="Lean.")
    address = f"/phrases/?change={phrase.pk}"
    assert "Lean.</textarea>" in as_person(ines).get(address).content.decode()
    as_person(ines).post(address, {"about": "any", "words": "Lean, do not turn."})
    assert [p.words for p in Phrase.objects.all()] == ["Lean, do not turn."]
    assert as_person(arno).get(address).status_code == 404


def test_the_print_offers_the_sentence_with_its_number(
    ines, sam, as_person, hand_in, make_frame, asks_for
):
    asks_for(quantity="magnification", low=0.9)
    small = {"effective_f_number": 44.0, "marked_f_number": 22.0, "coc_um": 28.8}
    frame = make_frame(sam, numbers=small | {"magnification": 0.5})
    row = hand_in(sam, frames=[frame])
    Phrase.objects.create(author=ines, about="diffraction", words="So {effective} it was.")
    Phrase.objects.create(author=ines, about="not-yet", words="At {came} today.")
    page = as_person(ines).get(f"/to-look-at/{row.pk}/").content.decode()
    assert 'data-phrase="So f/44 it was."' in page
    assert 'data-phrase="At 0.50 today."' in page

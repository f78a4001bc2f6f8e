"""The frame of every page: the paper one chose, large type that stays, places in words."""

import pytest

from course.models import Person

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("paper", ["day", "dark room", "bright sun", "as device"])
def test_the_paper_one_chose_is_on_every_page(as_person, sam, paper):
    Person.objects.filter(user=sam).update(paper=paper, large_type=True)
    page = as_person(sam).get("/this-week/").content.decode()
    assert f'class="paper-{paper.replace(" ", "-")} large-type"' in page


def test_a_student_has_four_places_and_knows_where_they_are(as_person, sam):
    page = as_person(sam).get("/people/").content.decode()
    for place in ("This week", "My log", "Plan", "People"):
        assert f">{place}</a>" in page
    assert page.count('aria-current="page"') == 1


def test_someone_who_teaches_has_theirs(as_person, ines):
    page = as_person(ines).get("/groups/").content.decode()
    for place in ("To look at", "Groups", "Course", "Plan"):
        assert f">{place}</a>" in page


@pytest.mark.parametrize(
    ("address", "place"),
    [("/my-weeks/", "This week"), ("/log/set-ups/", "My log"), ("/field-log/", "My log"),
     ("/plan/kit/", "Plan")],
)  # fmt: skip
def test_a_page_under_a_place_marks_it(as_person, sam, address, place):
    page = as_person(sam).get(address).content.decode()
    assert page.count('aria-current="true"') >= 1
    strap = page.partition("</header>")[0]
    assert strap.count("aria-current") == 1
    assert f'aria-current="true">{place}</a>' in strap

"""Every page under axe-core: no violation of WCAG 2.2 at level AA.

axe-core is Deque's (MPL-2.0) and comes inside the test package axe-playwright-python; nothing of
it is shipped. The routes are those of `tests/who_may_see.py`, so that a page that is added later
is looked at without anybody thinking of it. `-m slow` looks at all of them on each paper.
"""

from importlib import resources

import pytest
from django.test import Client
from django.urls import reverse

from course.models import Criterion, Exercise, Week
from shootlog.models import KitItem
from tests.frames import make_frame
from tests.test_who_may_see_what import argument, lena, roles, things  # noqa: F401
from tests.who_may_see import ROUTES, expected

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

AXE = (resources.files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
WIDTHS = (320, 1440)
PAPERS = ("paper-day", "paper-dark-room", "paper-bright-sun")
ASK = """async ([paper, tags]) => {
    document.documentElement.className = paper;
    const found = await axe.run(document, { runOnly: tags, resultTypes: ["violations"] });
    return found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.target + " " +
        (n.failureSummary ?? "").split("\\n").slice(1).join(" ")).join(" | ")}`);
}"""
#: looked at on every run, each in one of two views; the others take minutes
EVERY_TIME = ("course:this-week", "course:came-back", "course:to-look-at", "course:look")
NUMBERS = {
    "f_number": 22,
    "effective_f_number": (44, "worked out"),
    "marked_f_number": (22, "recorded"),
    "coc_um": (28.8, "assumed"),
    "magnification": (1.0, "told"),
    "exposure_s": 0.05,
    "iso": 400,
    "depth_of_field_mm": (3.1, "worked out"),
}


@pytest.fixture
def furnished(things):  # noqa: F811
    """One of everything, with something to read on each page."""
    t = things
    frame = make_frame(t.sam, pictures=True, numbers=NUMBERS, flags=["diffraction", "shake"])
    again = make_frame(t.sam, pictures=True, numbers=NUMBERS | {"f_number": 8})
    for row, shown in ((t.private, frame), (t.shared, frame), (t.reshoot, again)):
        row.places.update(frame=shown)
        row.wanted, row.unsure, row.may_be_projected = "Every hair sharp.", "the light", True
        row.series = None
        row.save()
    t.frame = frame
    Criterion.objects.create(exercise=t.exercise, kind="need", need="manual focus")
    Criterion.objects.create(
        exercise=t.exercise, kind="quantity", quantity="magnification", low=0.4, high=0.6
    )
    KitItem.objects.filter(pk=t.kit.pk).update(
        focal_length_mm=90.0, largest_ratio=1.0, widest_f_number=2.8
    )
    KitItem.objects.create(
        owner=t.sam, kind="body", name="A body", sensor_width_mm=23.5, sensor_height_mm=15.6
    )
    t.crit.words, t.crit.hand_in = "Turn the ring first.", t.private
    t.crit.save()
    return t


def pages(t, only=None):
    """Every page a person can open: (route, who, address)."""
    people = {"owner": t.sam, "instructor": t.course.teachings.get(role="instructor").user}
    for route, (_, method, args) in ROUTES.items():
        plain = route.partition("|")[0]
        if method != "get" or plain.startswith("api-") or (only and route not in only):
            continue
        cells = expected(route)
        address = reverse(plain, kwargs={key: argument(t, name) for key, name in args.items()})
        who = [role for role in people if cells[role] == "yes"]
        if cells["anonymous"] == "yes":
            who = ["anonymous"]
        for role in who:
            person = people.get(role)
            client = Client()
            if person:
                client.force_login(person)
            answer = client.get(address, follow=True)
            kind = answer.headers.get("Content-Type", "")
            if answer.streaming:
                list(answer)
                continue
            whole = kind.startswith("text/html") and b"<!doctype" in answer.content[:40]
            if answer.status_code == 200 and whole:
                yield route, role, person, address


def looked_at(open_as, page, t, *, only=None, views=None):
    """Run axe on each page; returns {(route, who): {view: violations}}."""
    table = {}
    for route, role, person, address in pages(t, only):
        page.context.clear_cookies()
        open_as(person, address)
        table[route, role] = asked(page, views or [(w, p) for w in WIDTHS for p in PAPERS])
    return table


def asked(page, views):
    """What axe says of the page that is open, with everything unfolded: {view: violations}."""
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    page.evaluate(AXE)
    said = {}
    for width, paper in views:
        page.set_viewport_size({"width": width, "height": 900})
        said[width, paper] = page.evaluate(ASK, [paper, TAGS])
    return said


def told(table):
    """The table as it is printed: a line a page, violations by name."""
    lines = []
    for (route, role), row in table.items():
        found = {words for violations in row.values() for words in violations}
        lines.append(f"{route:32} {role:11} {len(row)} views  {len(found)} violations")
        lines += [f"    {words}" for words in sorted(found)]
    return "\n".join(lines)


def test_the_pages_of_the_loop_have_no_violation(open_as, page, furnished):
    day, night = [(320, "paper-day")], [(1440, "paper-dark-room")]
    table = looked_at(open_as, page, furnished, only=EVERY_TIME[:2], views=day)
    table |= looked_at(open_as, page, furnished, only=EVERY_TIME[2:], views=night)
    assert {route for route, _ in table} == set(EVERY_TIME)
    assert not any(v for row in table.values() for v in row.values()), told(table)


OF_A_NEW_STUDENT = (
    "course:this-week", "course:my-weeks", "course:my-things", "course:me", "course:field-log",
    "shootlog:log", "shootlog:set-ups", "shootlog:own-numbers", "shootlog:companion",
    "planning:kit", "planning:kept-plans",
)  # fmt: skip
OF_A_NEW_INSTRUCTOR = ("to-look-at", "phrases", "groups", "courses", "people")
OF_A_NEW_GROUP = ("class-sheet", "projection", "evening", "group")


@pytest.fixture
def new_here(ines, noor, group, course):
    """Everybody's first day: (who, address) of the pages on which nothing lies yet."""
    week = Week.objects.create(course=course, number=1, title="One")
    exercise = Exercise.objects.create(week=week, title="A small thing")
    of_noor = [reverse(name) for name in OF_A_NEW_STUDENT]
    of_noor.append(reverse("course:hand-in", args=[exercise.pk]))
    of_ines = [reverse(f"course:{name}") for name in OF_A_NEW_INSTRUCTOR]
    of_ines += [reverse(f"course:{name}", args=[group.pk]) for name in OF_A_NEW_GROUP]
    of_ines.append(reverse("course:progress-of", args=[group.pk, group.enrolments.get().pk]))
    return [(noor, address) for address in of_noor] + [(ines, address) for address in of_ines]


@pytest.mark.parametrize(
    "only", ["hand-in", pytest.param("", marks=pytest.mark.slow)], ids=["one", "all"]
)
def test_pages_on_which_nothing_lies_yet_have_no_violation(open_as, page, new_here, only):
    found = {}
    for person, address in new_here:
        if only in address:
            page.context.clear_cookies()
            open_as(person, address)
            said = asked(page, [(320, "paper-day"), (1440, "paper-bright-sun")])
            found[address] = [words for violations in said.values() for words in violations]
    assert len(found) == (1 if only else len(new_here))
    assert {address: words for address, words in found.items() if words} == {}


@pytest.mark.slow
def test_no_page_has_a_violation_on_any_paper(open_as, page, furnished):
    table = looked_at(open_as, page, furnished)
    print(f"\naxe-core, {', '.join(TAGS)}; widths {WIDTHS}; {', '.join(PAPERS)}")
    print(told(table))
    assert len(table) > 60
    assert not any(v for row in table.values() for v in row.values()), told(table)

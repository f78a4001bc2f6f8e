"""Pages are light and lie still: under 200 KB without the picture, and nothing moves by itself."""

import pytest

from tests.pages.test_axe import furnished  # noqa: F401
from tests.test_who_may_see_what import lena, roles, things  # noqa: F401

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_BYTES = 200_000
#: pictures of frames; everything else a page fetches counts: text, styles, scripts, type, icons
PICTURES = ("screen.jpg", "thumb.jpg", "/crop", ".png")
WATCH = """
    window.moved = [];
    new PerformanceObserver((list) => {
        for (const entry of list.getEntries()) {
            // without a node it is inside a control of the browser's own, such as a player
            if (entry.hadRecentInput || entry.sources.every((s) => !s.node)) continue;
            const named = (n) => (n?.outerHTML ?? n?.parentElement?.outerHTML ?? "").slice(0, 90);
            window.moved.push([entry.value, ...entry.sources.map((s) => named(s.node))]);
        }
    }).observe({ type: "layout-shift", buffered: true });
"""


@pytest.fixture
def paths(furnished):  # noqa: F811
    t = furnished
    sam = t.sam
    ines = t.course.teachings.get(role="instructor").user
    return [
        (ines, "/to-look-at/"),
        (ines, f"/to-look-at/{t.private.pk}/"),
        (ines, f"/class-sheet/{t.group.pk}/"),
        (ines, f"/projection/{t.group.pk}/"),
        (sam, "/this-week/"),
        (sam, "/log/"),
        (sam, f"/log/{t.frame.pk}/"),
        (sam, f"/hand-in/{t.exercise.pk}/"),
        (sam, f"/came-back/{t.private.pk}/"),
        (sam, f"/pair/{t.reshoot.pk}/"),
        (sam, "/plan/what-if/"),
    ]


INK = """() => {
    const { color, backgroundColor } = getComputedStyle(document.body);
    return [color, backgroundColor];
}"""
WEIGH = """(pictures) => {
    const page = performance.getEntriesByType("navigation")[0];
    const isPicture = (name) => pictures.some((end) => name.split("?")[0].endsWith(end));
    const parts = performance.getEntriesByType("resource")
        .filter((part) => part.initiatorType !== "fetch" && !isPicture(part.name));
    return parts.reduce((sum, part) => sum + part.decodedBodySize, page.decodedBodySize);
}"""


@pytest.mark.slow
def test_no_page_weighs_more_than_200_kb_without_its_pictures(open_as, page, paths):
    """Everything uncompressed; on the way text is a third of that. Fetched ahead is not counted."""
    weights = {}
    for person, path in paths:
        page.context.clear_cookies()
        open_as(person, path)
        page.wait_for_load_state("networkidle")
        weights[path] = page.evaluate(WEIGH, PICTURES)
    for path, weight in weights.items():
        print(f"{weight / 1000:6.0f} KB  {path}")
    assert min(weights.values()) > 20_000  # it does count
    assert {p: w for p, w in weights.items() if w > MOST_BYTES} == {}


@pytest.mark.parametrize("width", [320, pytest.param(1440, marks=pytest.mark.slow)])
def test_nothing_moves_while_a_page_loads(open_as, page, paths, width):
    page.set_viewport_size({"width": width, "height": 800})
    page.add_init_script(WATCH)
    moved = {}
    for person, path in paths:
        page.context.clear_cookies()
        open_as(person, path)
        page.wait_for_load_state("networkidle")
        page.wait_for_timeout(150)
        moved[path] = page.evaluate("window.moved")
    for path, each in moved.items():
        print(f"{sum(value for value, *_ in each):.4f}  {path} {[s for _, *s in each]}")
    assert {path: each for path, each in moved.items() if each} == {}


@pytest.mark.slow
def test_on_paper_a_page_is_black_on_white_and_has_no_acts(open_as, page, paths):
    """As the browser prints it, whatever paper one reads on; the projection is not for paper."""
    for person, path in paths:
        if path.startswith("/projection/"):
            continue
        page.context.clear_cookies()
        open_as(person, path)
        page.evaluate("document.documentElement.className = 'paper-dark-room'")
        page.emulate_media(media="print")
        for chrome in (".strap", ".foot", "main .act", "main button"):
            shown = page.locator(chrome).evaluate_all(
                "all => all.filter((e) => e.offsetParent !== null).map((e) => e.outerHTML)"
            )
            assert shown == [], path
        ink = page.evaluate(INK)
        assert ink == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"], path
        page.emulate_media(media="screen")

"""The planning pages in a real browser: what recomputes agrees with the server."""

import random
import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

BEGIN = (
    "/plan/what-if/?focal_length_mm=90&lens_magnification=1&f_number=8&sensor_width_mm=36"
    "&subject_depth_mm=5&tube_mm=20"
)
RANGES = {
    "focal_length_mm": (30, 200),
    "lens_magnification": (0.1, 3),
    "f_number": (1.4, 32),
    "tube_mm": (0, 70),
    "close_up_dioptre": (0, 8),
    "converter": (1, 2),
    "sensor_width_mm": (9, 44),
    "subject_depth_mm": (0.2, 60),
    "overlap": (0, 0.6),
    "pupil_ratio": (0.4, 2.5),
    "rim_mm": (-20, 30),
}


def shown(page):
    return page.eval_on_selector_all(
        "[data-out]", "all => Object.fromEntries(all.map(o => [o.dataset.out, o.textContent]))"
    )


def test_numbers_recomputed_in_the_page_are_the_servers(open_as, sam):
    page = open_as(sam, BEGIN)
    chance = random.Random(7)
    for _ in range(12):
        told = {k: f"{chance.uniform(*ends):.2f}" for k, ends in RANGES.items()}
        page.goto(page.url.split("?")[0])
        for name, value in told.items():
            page.fill(f"[name={name}]", value)
        by_itself = shown(page)
        with page.expect_navigation():
            page.click("text=Work it out")
        assert shown(page) == by_itself, told


def test_a_slider_turns_the_number_and_the_drawing_follows(open_as, sam):
    page = open_as(sam, BEGIN)
    before = page.inner_html("#drawn")
    slider = page.get_by_label("f-number on the ring, turned")
    slider.focus()
    slider.press("End")
    assert page.input_value("[name=f_number]") == "32"
    assert shown(page)["effective_f_number"] == "f/71"
    expect(page).to_have_url(re.compile("f_number=32"))
    assert page.inner_html("#drawn") != before


def test_without_scripts_the_form_does_the_same(own_browser, sam):
    page = own_browser(java_script_enabled=False)(sam, BEGIN)
    page.fill("[name=f_number]", "16")
    page.click("text=Work it out")
    expect(page.locator("[data-out=effective_f_number]")).to_have_text("f/36")


@pytest.mark.parametrize("width", [320, 768, 1440])
def test_nothing_runs_off_the_page(open_as, sam, page, width):
    page.set_viewport_size({"width": width, "height": 800})
    for path in [BEGIN, "/plan/", "/plan/stack/", "/plan/landscape/", "/plan/kit/", "/plan/kept/"]:
        open_as(sam, path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width

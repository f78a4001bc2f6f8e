"""Drawings and crops on a frame's own page, in a real browser: without scripts, and close up."""

import io

import numpy as np
import pytest
from django.core.files.base import ContentFile
from PIL import Image
from playwright.sync_api import expect

from shootlog import store
from shootlog.models import Frame
from shootlog.reading import Quantity, Reading
from tests.frames import make_frame
from tests.pages.acts import all_there, follow

pytestmark = pytest.mark.browser
CROPS = {"thin-depth": {"here": [700, 500, 480, 360], "good": [100, 100, 480, 360]}}


def noise():
    rng = np.random.default_rng(4)
    picture = Image.fromarray(rng.integers(0, 255, (75, 112, 3), np.uint8)).resize((1500, 1000))
    out = io.BytesIO()
    picture.save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def frame(sam, course):
    course.advice_at_once = True
    course.save()
    size = {"width_px": 1500, "height_px": 1000}
    evidence = {"crops": CROPS, "sharp_share": 0.06, "sharp_box": [0.4, 0.4, 0.3, 0.3], **size}
    made = make_frame(sam, pictures=True, data=noise(), evidence=evidence)
    known = {"depth_of_field_mm": 0.34, "subject_depth_mm": 5.0, "magnification": 1.0}
    numbers = {name: Quantity.exactly(value, "told") for name, value in known.items()}
    made.reading = Reading(numbers, {"crops": CROPS}).as_json()
    made.save()
    store.store().delete(f"{made.shown_key}/screen.jpg")
    store.store().save(f"{made.shown_key}/screen.jpg", ContentFile(noise()))
    return Frame.objects.get(pk=made.pk)


@pytest.mark.parametrize("width", [320, 1440])
def test_without_scripts_a_link_lays_the_drawing_over_the_print(frame, sam, own_browser, width):
    plain = own_browser(java_script_enabled=False, viewport={"width": width, "height": 800})
    page = plain(sam, f"/log/{frame.pk}/")
    assert page.locator(".over").count() == 0
    follow(page, "what is sharp")
    picture, over = page.locator(".paper > .picture"), page.locator("img.over")
    for side, value in picture.bounding_box().items():
        assert over.bounding_box()[side] == pytest.approx(value, abs=1.5)
    expect(page.locator(".over-words")).to_contain_text("in the middle, 6 % of the picture")
    follow(page, "where it shows")
    expect(page.locator(".over.crops path.core")).to_have_count(2)
    crops = page.locator(".proof-pair img")
    expect(crops).to_have_count(2)
    # at its own pixels: never squeezed, at most cut at the sides
    assert crops.first.bounding_box()["width"] <= 480.5
    assert crops.first.evaluate("e => getComputedStyle(e).objectFit") == "none"
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_drawing_stays_while_one_looks_close(frame, sam, open_as):
    page = open_as(sam, f"/log/{frame.pk}/?over=sharp")
    page.wait_for_function("document.querySelector('img.over').naturalWidth > 0")
    page.get_by_role("button", name="True pixels").click()
    all_there(page)
    white = """() => {
        const canvas = document.querySelector("canvas.close");
        const {data} = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
        let count = 0;
        for (let k = 0; k < data.length; k += 4)
            count += data[k] + data[k + 1] + data[k + 2] === 765;
        return count;
    }"""
    page.wait_for_function(f"({white})() > 500")
    follow(page, "nothing")
    assert page.locator("img.over").count() == 0
    page.get_by_role("button", name="True pixels").click()
    all_there(page)
    assert page.evaluate(white) < 100

"""One print brought close: parts of the original on demand, by keys, by fingers, on a bad line."""

import io

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from course.models import HandIn
from tests.frames import make_frame
from tests.pages.acts import STILL_COMING, all_there

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: the time from one drawn picture of the screen to the next, while something goes on
WATCH = """() => {
    window.gaps = [];
    let last = performance.now();
    const next = (now) => {
        window.gaps.push(now - last);
        last = now;
        requestAnimationFrame(next);
    };
    requestAnimationFrame(next);
}"""


def camera_file(width, height):
    """A JPEG of that many pixels with something to see everywhere: a lattice on a soft ground."""
    rng = np.random.default_rng(7)
    ground = rng.integers(60, 200, (height // 16, width // 16, 3), dtype=np.uint8)
    picture = np.asarray(Image.fromarray(ground).resize((width, height), 3)).copy()
    picture[::97], picture[:, ::131] = 20, 235
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=92)
    return out.getvalue()


@pytest.fixture
def print_of(sam, group, exercise):
    """Return a function that hands in a frame of so many pixels."""

    def hand_in(width, height):
        recorded = {"width_px": width, "height_px": height, "origins": {}}
        frame = make_frame(sam, data=camera_file(width, height), recorded=recorded, pictures=True)
        return HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[frame])

    return hand_in


def parts(page):
    """Collect the size of every part of an original that comes, by its address."""
    came = {}
    page.on(
        "requestfinished",
        lambda r: came.update({r.url: r.sizes()["responseBodySize"]}) if "/crop" in r.url else 0,
    )
    return came


@pytest.mark.slow
def test_sixty_megapixels_come_in_parts_and_move_smoothly(open_as, page, ines, print_of):
    row = print_of(9504, 6336)
    whole = row.first_frame.size_bytes
    came = parts(page)
    open_as(ines, f"/to-look-at/{row.pk}/")
    page.wait_for_load_state("networkidle")
    assert came == {}  # nothing of the original before somebody asks
    page.keyboard.press("z")
    all_there(page)
    first = sum(came.values())
    box = page.locator("canvas.close").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.evaluate(WATCH)
    for _ in range(4):
        page.mouse.move(x, y)
        page.mouse.down()
        for k in range(40):
            page.mouse.move(x - 8 * k, y - 5 * k)
        page.mouse.up()
    all_there(page)
    gaps = sorted(page.evaluate("window.gaps"))
    page.keyboard.press("z")
    all_there(page)
    print(
        f"\n60 MP, {whole / 1e6:.1f} MB: true pixels {first / 1e6:.2f} MB, after four drags "
        f"{sum(came.values()) / 1e6:.2f} MB in {len(came)} parts; from picture to picture while "
        f"dragging median {gaps[len(gaps) // 2]:.1f} ms, 95 of 100 within "
        f"{gaps[int(0.95 * len(gaps))]:.1f} ms"
    )
    assert 0 < first < whole / 4
    assert sum(came.values()) < whole / 2


def test_by_keys_it_comes_close_and_is_moved(open_as, page, ines, print_of):
    row = print_of(3000, 2000)
    open_as(ines, f"/to-look-at/{row.pk}/")
    page.wait_for_load_state("networkidle")
    page.keyboard.press("z")
    all_there(page)
    assert page.locator(".where").inner_text() == "1500, 1000 px"
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowDown")
    assert page.locator(".where").inner_text().startswith("1860, 1120 px")
    page.keyboard.press("w")
    page.keyboard.press("ArrowRight")  # in the words it is theirs
    assert page.locator(".where").inner_text().startswith("1860, 1120 px")


def test_two_fingers_come_closer_and_go_back(own_browser, ines, print_of):
    row = print_of(3000, 2000)
    phone = own_browser(has_touch=True, viewport={"width": 390, "height": 780})
    page = phone(ines, f"/to-look-at/{row.pk}/")
    page.get_by_role("button", name="True pixels").tap()
    all_there(page)
    box = page.locator("canvas.close").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    touch = page.context.new_cdp_session(page)

    def fingers(kind, *apart):
        points = [
            {"x": x + side * half, "y": y, "id": k}
            for half in apart
            for k, side in enumerate((-1, 1))
        ]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    fingers("touchStart", 40)
    for half in (50, 60, 70):
        fingers("touchMove", half)
    fingers("touchEnd")
    pressed = page.get_by_role("button", name="Single pixels")
    expect(pressed).to_have_attribute("aria-pressed", "true")
    fingers("touchStart", 100)
    for half in (80, 60, 40):
        fingers("touchMove", half)
    fingers("touchEnd")
    expect(pressed).to_have_attribute("aria-pressed", "false")


def test_a_part_that_did_not_come_is_said_and_asked_for_again(troubled, ines, print_of):
    """Till its own pixels are there the print looks softer than it is; nobody may judge it so."""
    row = print_of(3000, 2000)
    page = troubled(ines, f"/to-look-at/{row.pk}/")
    page.route("**/crop?**", lambda route: route.abort("internetdisconnected"))
    page.keyboard.press("z")
    page.locator(".where", has_text=STILL_COMING).wait_for()
    page.unroute("**/crop?**")
    all_there(page)

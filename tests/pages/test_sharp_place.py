"""What should be sharp is tapped in a real browser, with no script and at any width."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("width", [320, 1440])
def test_a_tap_without_scripts_lands_where_it_was_pressed(own_browser, sam, make_frame, width):
    recorded = {"width_px": 900, "height_px": 600, "origins": {}}
    frame = make_frame(sam, recorded=recorded, pictures=True)
    open_path = own_browser(java_script_enabled=False, viewport={"width": width, "height": 900})
    page = open_path(sam, f"/log/{frame.pk}/")
    page.locator("input[type=image]").click(position={"x": 64, "y": 120})
    page.get_by_text("Marked: at the bottom left.").wait_for()
    frame.refresh_from_db()
    left, top, wide, high = frame.wanted_area
    assert left + wide / 2 == pytest.approx(64 / 256, abs=0.005)
    assert top + high / 2 == pytest.approx(120 / 171, abs=0.008)
    drawn = page.locator(".sharp-place rect.core").bounding_box()
    shown = page.locator("input[type=image]").bounding_box()
    assert shown["width"] == pytest.approx(256, abs=0.5)
    assert drawn["x"] + drawn["width"] / 2 - shown["x"] == pytest.approx(64, abs=2)
    assert drawn["y"] + drawn["height"] / 2 - shown["y"] == pytest.approx(120, abs=2)

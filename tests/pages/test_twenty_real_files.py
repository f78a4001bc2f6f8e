"""Twenty files as they came out of real cameras, through the pages, in a real browser.

The files lie in ../shared/frames beside the project (open test collections, see the README there);
what an independent reader says of them is in its truth.json.
"""

import json
import re
from pathlib import Path

import pytest

from course.models import Exercise, HandIn, Week
from shootlog.models import Frame

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
FRAMES = Path(__file__).parents[2] / ".." / "shared" / "frames"
FOLDERS = {"macro": 4, "camera": 13, "heic": 3, "orientation": 2}


def twenty_files():
    if not FRAMES.exists():
        pytest.skip("the real camera files (../shared/frames) are not beside this checkout")
    truth = json.loads((FRAMES / "truth.json").read_text())["files"]
    chosen = []
    for folder, count in FOLDERS.items():
        # Files that an independent reader finds a camera and an exposure time in.
        fit = [
            name
            for name in sorted(truth)
            if name.startswith(f"{folder}/")
            and truth[name].get("Make")
            and truth[name].get("ExposureTime")
            and 30_000 < (FRAMES / name).stat().st_size < 1_500_000  # a whole picture
        ]
        chosen += [(FRAMES / name, truth[name]) for name in fit[:count]]
    return chosen


def test_twenty_camera_files_go_in_are_read_and_are_handed_in(
    open_as, work, ines, sam, group, course
):
    files = twenty_files()
    assert len(files) == 20
    week = Week.objects.create(course=course, number=1, title="One")
    exercise = Exercise.objects.create(week=week, title="Whatever you have")

    page = open_as(sam, "/log/")
    page.set_input_files("input[type=file]", [str(path) for path, _ in files])
    page.wait_for_function(
        "n => document.querySelectorAll('.just-came .on-the-sheet').length >= n",
        arg=len(files),
        timeout=60_000,
    )
    work()
    for path, truth in files:
        frame = Frame.objects.get(sent_name=path.name)
        assert frame.state == Frame.State.READY, (path.name, frame.trouble)
        assert frame.recorded["make"].strip().lower()[:4] == truth["Make"].strip().lower()[:4]
        assert frame.recorded["exposure_s"] == pytest.approx(truth["ExposureTime"], rel=0.02)
        assert frame.caption

    page = open_as(sam, f"/hand-in/{exercise.pk}/")
    for box in page.locator("#sheet input[name=frames]").all()[:3]:
        box.check()
    page.fill("[name=wanted]", "To see what they say.")
    page.get_by_role("button", name="Hand in").click()
    page.wait_for_url(re.compile("/came-back/"))

    row = HandIn.objects.get()
    page = open_as(ines, f"/to-look-at/{row.pk}/")
    said = page.locator("main").inner_text()
    assert "To see what they say." in said
    assert row.frames_in_order()[0].caption in said

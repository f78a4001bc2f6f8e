"""Sixty prints reviewed by keys alone: how long a person waits for the next one."""

import io
import re
import statistics

import pytest
from PIL import Image

from course.models import HandIn
from tests.frames import make_frame
from tests.shootlog.test_laid_over import scene

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]

PRINTS = 60
LOOKS_MS = 1500  # what a quick person takes at least before the next key
FIFTEEN_MINUTES_S = 15 * 60
NEXT = """([key, wanted]) => new Promise((done) => {
    const began = performance.now();
    new MutationObserver((_, watch) => {
        const main = document.querySelector("main");
        if (!main?.innerText.includes(wanted)) return;
        watch.disconnect();
        main.querySelector("img.picture").decode().then(() => done(performance.now() - began));
    }).observe(document.body, { childList: true, subtree: true });
    dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
})"""


def picture(k):
    """A screen picture as large as those of a camera, each other bytes than the last."""
    shown = scene(7).resize((2048, 1365), Image.Resampling.BICUBIC).rotate(k)
    out = io.BytesIO()
    shown.convert("RGB").save(out, "JPEG", quality=85, comment=f"{k}".encode())
    return out.getvalue()


def test_sixty_prints_wait_for_nobody(open_as, page, ines, sam, group, exercise):
    recorded = {"width_px": 2048, "height_px": 1365, "origins": {}}
    for k in range(PRINTS):
        frame = make_frame(sam, data=picture(k), recorded=recorded, pictures=True)
        HandIn.objects.hand_in(
            exercise=exercise, group=group, student=sam, frames=[frame], wanted=f"wanted {k:02d}."
        )
    open_as(ines, "/to-look-at/")
    page.get_by_role("link", name="Begin with the first").click()
    page.wait_for_url(re.compile(r"/to-look-at/\d+/$"))  # the table left behind is idle too
    page.wait_for_load_state("networkidle")
    waits = []
    for k in range(1, PRINTS):
        page.wait_for_timeout(LOOKS_MS)
        waits.append(page.evaluate(NEXT, ["k", f"wanted {k:02d}."]))
    page.wait_for_timeout(LOOKS_MS)
    with page.expect_navigation():
        page.keyboard.press("k")
    assert HandIn.objects.filter(state="kept").count() == PRINTS
    ranked = sorted(waits)
    print(
        f"\nwaited for the next of {PRINTS} prints: median {statistics.median(waits):.0f} ms, "
        f"95 of 100 within {ranked[int(0.95 * len(ranked))]:.0f} ms, longest {ranked[-1]:.0f} ms, "
        f"together {sum(waits) / 1000:.1f} s; that leaves "
        f"{(FIFTEEN_MINUTES_S - sum(waits) / 1000) / PRINTS:.1f} s to look at each in 15 minutes"
    )
    assert statistics.median(waits) < 100

"""Files on their way in: on a bad line, after a closed page, and what they lack."""

import re

import pytest
from django.contrib.sessions.models import Session
from playwright.sync_api import expect

from shootlog.models import Frame
from tests.frames import jpeg
from tests.pages.acts import sign_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_an_upload_goes_on_after_the_connection_was_lost(troubled, sam):
    """Three pieces; the line goes dead after the first and comes back."""
    page = troubled(sam, "/log/")
    data = jpeg() + b"\0" * (5 * 1024 * 1024)
    lost = []

    def line(route):
        if (
            route.request.method == "PATCH"
            and int(route.request.headers["upload-offset"]) > 0
            and len(lost) < 2
        ):
            lost.append(1)
            route.abort("internetdisconnected")
        else:
            route.continue_()

    page.route("**/log/upload/**", line)
    page.set_input_files(
        "input[type=file]", [{"name": "big.jpg", "mimeType": "image/jpeg", "buffer": data}]
    )
    page.get_by_text("The connection is lost").wait_for()
    page.locator(".just-came .on-the-sheet").wait_for(timeout=20_000)
    assert len(lost) == 2
    assert Frame.objects.get().size_bytes == len(data)


def test_files_dropped_on_the_page_are_sent(open_as, sam):
    page = open_as(sam, "/log/")
    page.evaluate(
        """(files) => {
            const carried = new DataTransfer();
            for (const [name, bytes] of files) {
                carried.items.add(new File([new Uint8Array(bytes)], name, { type: "image/jpeg" }));
            }
            for (const kind of ["dragenter", "dragover", "drop"]) {
                document.body.dispatchEvent(new DragEvent(
                    kind, { dataTransfer: carried, bubbles: true, cancelable: true }));
            }
        }""",
        [["one.jpg", list(jpeg())], ["two.jpg", list(jpeg())]],
    )
    page.locator(".just-came .on-the-sheet").nth(1).wait_for()
    assert set(Frame.objects.values_list("sent_name", flat=True)) == {"one.jpg", "two.jpg"}


def test_a_refused_file_says_why_and_the_rest_goes_on(troubled, sam):
    page = troubled(sam, "/log/")
    page.set_input_files(
        "input[type=file]",
        [
            {"name": "letter.txt", "mimeType": "text/plain", "buffer": b"Dear all, " * 50},
            {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": jpeg()},
        ],
    )
    page.locator(".just-came .on-the-sheet").wait_for()
    expect(page.locator(".on-the-way")).to_contain_text("letter.txt is not a picture")
    assert Frame.objects.get().sent_name == "a.jpg"


def test_what_a_file_lacks_is_told_before_it_is_handed_in(open_as, work, sam, group, exercise):
    """A picture out of a chat: no exposure time, no f-number; the page says so beside it."""
    page = open_as(sam, f"/hand-in/{exercise.pk}/")
    file = {"name": "chat.jpg", "mimeType": "image/jpeg", "buffer": jpeg()}
    page.set_input_files("input[type=file]", [file])
    page.locator("#sheet input[name=frames]:checked").wait_for()
    work()
    page.locator("#sheet img").wait_for()
    assert "How to send the original" in page.locator("#sheet .file-trouble").inner_text()
    page.get_by_role("link", name="How to send the original").click()
    page.wait_for_url(re.compile("/log/#send-original"))
    assert page.locator("#send-original").is_visible()


def sent_from(page):
    """Collect where in the file each piece began that was sent."""
    began = []
    page.on(
        "request",
        lambda r: began.append(int(r.headers["upload-offset"])) if r.method == "PATCH" else 0,
    )
    return began


@pytest.mark.slow
@pytest.mark.parametrize("trouble", ["closed", "signed out"])
def test_sending_goes_on_where_it_was(troubled, sam, tmp_path, trouble):
    """After the page was closed, and after one had to sign in again: only the rest is sent."""
    file = tmp_path / "big.jpg"
    file.write_bytes(jpeg() + b"\0" * (5 * 1024 * 1024))
    page = troubled(sam, "/log/")

    def line(route):
        if route.request.method == "PATCH" and int(route.request.headers["upload-offset"]) > 0:
            if trouble == "closed":
                return  # it never ends
            Session.objects.all().delete()
        route.continue_()

    page.route("**/log/upload/**", line)
    began = sent_from(page)
    if trouble == "closed":
        with page.expect_request(lambda r: r.headers.get("upload-offset") == str(2 * 1024 * 1024)):
            page.set_input_files("input[type=file]", file)
        assert began == [0, 2 * 1024 * 1024]
        page.close(run_before_unload=False)
        page = troubled(sam, "/log/")
        again = sent_from(page)
        page.set_input_files("input[type=file]", file)
    else:
        page.set_input_files("input[type=file]", file)
        page.get_by_text("You are signed out").wait_for()
        page.unroute("**/log/upload/**")
        other = page.context.new_page()
        other.goto(re.match(r"https?://[^/]+", page.url)[0] + "/sign-in/")
        sign_in(other, "sam")
        again = sent_from(page)
        page.get_by_role("button", name="Try again").click()
    page.locator(".just-came .on-the-sheet").wait_for()
    assert again == [2 * 1024 * 1024, 4 * 1024 * 1024]
    assert Frame.objects.get().size_bytes == file.stat().st_size

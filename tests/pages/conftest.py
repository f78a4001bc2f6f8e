"""What the browser tests share."""

import pytest


@pytest.fixture
def troubled(browser, live_server, as_person):
    """Return a function that opens a page as someone; trouble on the console is expected here."""
    context = browser.new_context()

    def open_path(user, path):
        cookie = as_person(user).cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        page = context.new_page()
        page.goto(live_server.url + path)
        page.wait_for_load_state("networkidle")
        return page

    yield open_path
    context.close()

"""What the browser tests share."""

import pytest


@pytest.fixture
def own_browser(browser, live_server, as_person):
    """Return a function that begins a browser of its own: with no scripts, on a phone, as asked.

    What it gives back opens a page as someone, each in a tab of that browser. Trouble on the
    console is not looked for, unlike in pages opened by `open_as`.
    """
    contexts = []

    def begin(**asked):
        context = browser.new_context(**asked)
        contexts.append(context)

        def open_path(user, path):
            cookie = as_person(user).cookies["sessionid"].value
            context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
            page = context.new_page()
            page.goto(live_server.url + path)
            page.wait_for_load_state("networkidle")
            return page

        return open_path

    yield begin
    for context in contexts:
        context.close()


@pytest.fixture
def troubled(own_browser):
    """Return a function that opens a page as someone; trouble on the console is expected here."""
    return own_browser()

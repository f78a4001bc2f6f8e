"""What the browser tests share."""

import pytest

from course.models import Exercise, Week


@pytest.fixture
def exercise(course):
    week = Week.objects.create(course=course, number=1, title="Getting close")
    return Exercise.objects.create(week=week, title="A small thing, close")


@pytest.fixture
def own_browser(browser, live_server, as_person):
    """Return a function that begins a browser of its own: with no scripts, on a phone, as asked.

    What it gives back opens a page as someone or as nobody, each in a tab of that browser.
    Trouble on the console is not looked for, unlike in pages opened by `open_as`.
    """
    contexts = []

    def begin(**asked):
        context = browser.new_context(**asked)
        contexts.append(context)

        def open_path(user, path):
            if user is not None:
                cookie = as_person(user).cookies["sessionid"].value
                signed_in = {"name": "sessionid", "value": cookie, "url": live_server.url}
                context.add_cookies([signed_in])
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

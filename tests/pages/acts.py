"""What people do on a page, waited for until the page it leads to is there.

Right after a click `wait_for_load_state` is answered by the page that is left behind, and so is
whatever is read without waiting; the next act then falls on a page that goes away.
"""


def press(page, name):
    """Press a button that leads to a page."""
    with page.expect_navigation():
        page.get_by_role("button", name=name, exact=True).click()


def follow(page, name):
    """Follow a link to another page."""
    with page.expect_navigation():
        page.get_by_role("link", name=name, exact=True).click()


def sign_in(page, name):
    """Fill in the door's form; the name is the password too, as with all of the cast."""
    page.fill("[name=username]", name)
    page.fill("[name=password]", name)
    with page.expect_navigation():
        page.locator("main button").first.click()


STILL_COMING = "its own pixels are still coming"


def all_there(page):
    """Wait until a print brought close is drawn from its own pixels."""
    page.wait_for_function(
        "words => { const where = document.querySelector('.where').textContent;"
        " return where && !where.includes(words); }",
        arg=STILL_COMING,
    )

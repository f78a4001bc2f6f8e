"""What code can do and no page explains is a mistake here."""

import re

from django.core.management import get_commands

from tests.house import BASE

OURS = ["config", "shootlog", "course"]


def document(*names):
    return "\n".join((BASE / name).read_text() for name in names)


def sources():
    for package in OURS:
        yield from (BASE / package).rglob("*.py")


def test_every_setting_is_explained_in_the_readme():
    read = {
        name
        for path in sources()
        for name in re.findall(r"""["'](WD_[A-Z0-9_]+)["']""", path.read_text())
    }
    inner = {"WD_ENTERED"}  # between two lives of one process
    assert "WD_DATA" in read
    readme = document("README.md")
    read = {name.removesuffix("_FILE") for name in read}  # said once for all of them
    assert {name for name in read - inner if f"`{name}`" not in readme} == set()


def test_the_readme_explains_no_setting_that_is_gone():
    code = document(*(str(path.relative_to(BASE)) for path in sources()))
    named = set(re.findall(r"`(WD_[A-Z0-9_]+)`", document("README.md")))
    assert {name for name in named if name not in code} == set()


def test_every_command_is_explained():
    ours = {name for name, app in get_commands().items() if app in OURS}
    assert {"serve", "test", "lint", "bench"} <= ours
    told = document("README.md", "DEVELOPERS.md")
    assert {name for name in ours if f"manage.py {name}" not in told} == set()


def test_decisions_have_dates():
    decisions = document("DEVELOPERS.md").partition("## Decisions")[2]
    paragraphs = [words for words in decisions.split("\n\n") if words.startswith("**")]
    assert paragraphs
    for words in paragraphs:
        assert re.match(r"\*\*20\d\d-\d\d-\d\d\b", words), words[:60]

"""Rules of the house that no linter can say."""

import ast
import re
import subprocess
import sys

import pytest

from tests.house import BASE

PACKAGES = ["config", "course", "shootlog", "optics", "tests"]
MOST_LINES = 400  # of code and comments; what a docstring explains does not count
NO_HOMES = {"utils", "util", "services", "selectors", "helpers", "common", "core", "misc"}
PURE = [
    "optics",
    "shootlog.recorded",
    "shootlog.set_up",
    "shootlog.reading",
    "shootlog.work_out",
    "shootlog.light_and_depth",
    "shootlog.what_if",
    "shootlog.stack_plan",
    "shootlog.planner",
    "shootlog.ladder",
    "shootlog.side_view",
    "shootlog.own_past",
    "shootlog.plan_beside",
    "shootlog.series_told",
    "shootlog.findings",
    "course.brief",
    "course.brief_rows",
    "course.phrases",
    "course.glossary",
    "course.compare",
    "course.reading_ease",
    "course.course_text",
    "course.archive",
    "course.six_weeks",
    "course.progress",
    "course.field_card",
    "course.plain_text",
]
# Words of other trades and of school reports; see the nouns in DEVELOPERS.md.
NEVER_ON_PAGES = (
    "grade|grades|graded|grading|assignment|assignments|submission|submissions|submit|cohort|"
    "quiz|badge|badges|streak|overdue|score|scores|AI"
)


def files(*suffixes):
    """Every file of the project with one of these endings, as git knows them."""
    known = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard"],
        cwd=BASE,
        capture_output=True,
        text=True,
        check=False,
    )
    if known.returncode:
        pytest.skip("not a git clone, or no git here: nobody knows which files are the project's")
    paths = [BASE / line for line in known.stdout.splitlines() if line.endswith(suffixes)]
    return [path for path in paths if path.is_file()]


def modules():
    return [path for package in PACKAGES for path in (BASE / package).rglob("*.py")]


def lines_without_docstrings(path):
    source = path.read_text()
    total = len(source.splitlines())
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, (ast.Module, ast.FunctionDef, ast.ClassDef)) and ast.get_docstring(
            node
        ):
            text = node.body[0]
            total -= text.end_lineno - text.lineno + 1
    return total


def test_modules_stay_small():
    long = {
        str(path.relative_to(BASE)): lines
        for path in modules()
        if "migrations" not in path.parts and (lines := lines_without_docstrings(path)) > MOST_LINES
    }
    assert long == {}


def test_nothing_has_a_name_that_could_hold_anything():
    homeless = [
        str(path.relative_to(BASE)) for path in modules() if NO_HOMES & {*path.parts, path.stem}
    ]
    assert homeless == []


def test_migrations_say_what_they_do():
    unnamed = [path.name for path in modules() if re.fullmatch(r"\d{4}_auto_\w+\.py", path.name)]
    assert unnamed == []


def is_there(name):
    """A pure module that is missing is lint's to report: its contract names it."""
    place = BASE / name.replace(".", "/")
    return place.is_dir() or place.with_suffix(".py").is_file()


@pytest.mark.parametrize("name", [name for name in PURE if is_there(name)])
def test_pure_modules_load_without_django(name):
    code = f"import sys, {name}; assert 'django' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], cwd=BASE, check=True)


def test_packages_with_pure_modules_import_nothing_themselves():
    """An import in the package's own file would be run by every pure module."""
    for package in ["optics", "shootlog", "course", "config"]:
        tree = ast.parse((BASE / package / "__init__.py").read_text())
        assert not any(isinstance(node, (ast.Import, ast.ImportFrom)) for node in ast.walk(tree))


def test_locks_name_no_index():
    for name in ["requirements.txt", "requirements-many.txt", "requirements-test.txt"]:
        text = (BASE / name).read_text()
        assert "://" not in text
        assert "--index-url" not in text


def test_no_path_of_anybodys_machine():
    own = re.compile(r"/(?:work|root|home/\w+)/")
    found = [
        f"{path.relative_to(BASE)}: {match[0]}"
        for path in files(".py", ".md", ".toml", ".txt", ".html", ".css", ".js", ".json", ".csv")
        if path != BASE / "tests" / "test_layout.py"
        and (match := own.search(path.read_text(errors="replace")))
    ]
    assert found == []


def test_pages_keep_to_their_words():
    never = re.compile(rf"\b(?:{NEVER_ON_PAGES})\b")
    code = re.compile(r"<[^>]*>|{%.*?%}|{#.*?#}|{{.*?}}", re.DOTALL)
    found = [
        f"{path.relative_to(BASE)}: {match[0]}"
        for path in files(".html")
        if (match := never.search(code.sub(" ", path.read_text())))
    ]
    assert found == []


def test_pages_hold_no_script_and_no_style():
    """The policy would refuse them; better to know it here."""
    inline = re.compile(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=", re.IGNORECASE)
    found = [
        f"{path.relative_to(BASE)}: {match[0]}"
        for path in files(".html")
        if (match := inline.search(path.read_text()))
    ]
    assert found == []

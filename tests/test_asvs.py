"""ASVS.md answers every requirement, and every test it names is there."""

import re

from tests.house import BASE

#: section -> numbers of its requirements at levels 1 and 2 (V5: all three), as in the CSV of
#: ASVS 5.0.0; V10 and V17 do not apply as a whole
ASKED = {
    "1.1": 2, "1.2": 9, "1.3": 11, "1.4": 3, "1.5": 2,
    "2.1": 3, "2.2": 3, "2.3": 4, "2.4": 1,
    "3.2": 2, "3.3": 4, "3.4": 6, "3.5": 5, "3.7": 2,
    "4.1": 3, "4.2": 1, "4.3": 2, "4.4": 4,
    "5.1": 1, "5.2": 6, "5.3": 3, "5.4": 3,
    "6.1": 3, "6.2": 12, "6.3": 4, "6.4": 4, "6.5": 5, "6.6": 3, "6.8": 4,
    "7.1": 3, "7.2": 4, "7.3": 2, "7.4": 5, "7.5": 2, "7.6": 2,
    "8.1": 2, "8.2": 3, "8.3": 1, "8.4": 1,
    "9.1": 3, "9.2": 4,
    "11.1": 2, "11.2": 3, "11.3": 3, "11.4": 4, "11.5": 1, "11.6": 1,
    "12.1": 3, "12.2": 2, "12.3": 4,
    "13.1": 1, "13.2": 5, "13.3": 2, "13.4": 5,
    "14.1": 2, "14.2": 4, "14.3": 3,
    "15.1": 3, "15.2": 3, "15.3": 7,
    "16.1": 1, "16.2": 5, "16.3": 4, "16.4": 3, "16.5": 3,
}  # fmt: skip
ANSWERS = {"met", "partly", "not met", "n/a", "house"}
TEXT = (BASE / "ASVS.md").read_text()
ROWS = re.findall(r"^\| (\d[\d. to]*?) \| ([\d, ]+) \| (.*?) \| (.*?) \| (.*?) \|$", TEXT, re.M)


def test_every_requirement_is_answered_once():
    asked = {f"{section}.{k}" for section, many in ASKED.items() for k in range(1, many + 1)}
    told = [number for number, *_ in ROWS if " to " not in number]
    assert len(told) == len(set(told))
    assert set(told) == asked
    assert [number for number, *_ in ROWS if " to " in number] == [
        "10.1.1 to 10.7.3",
        "17.1.1 to 17.3.2",
    ]


def test_every_answer_is_one_of_five_and_says_why():
    for number, _, _, answer, why in ROWS:
        assert answer in ANSWERS, number
        assert why.strip(), number


def test_every_test_named_is_there():
    named = re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", TEXT)
    assert len(named) > 80
    for path, name in named:
        code = (BASE / path).read_text()
        assert not name or f"def {name}(" in code, f"{path}::{name}"


def test_every_place_in_the_code_named_is_there():
    for path in re.findall(r"`((?:config|course|shootlog)/[\w/]+\.\w+)`", TEXT):
        assert (BASE / path).exists(), path

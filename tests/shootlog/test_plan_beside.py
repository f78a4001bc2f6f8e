"""A plan beside what was shot; what cannot be told is left open."""

from shootlog.plan_beside import beside, to_count

FOUND = {
    "frames": 12,
    "step_mm": 0.5,
    "count": ["Manual focus.", "1 2 3", "4 5", "5 is in the air"],
}


def rows(shot, frames=12):
    found = beside(FOUND, {"subject_depth_mm": 5.0}, shot, frames)
    return {row.words: (row.planned, row.shot, row.same) for row in found}


def test_what_was_shot_stands_beside_what_was_planned():
    told = rows(
        {
            "step_mm": 0.52,
            "gaps": [[8, 9]],
            "starts_in_front": True,
            "ends_behind": False,
            "covered_share": 0.91,
        },
        frames=11,
    )
    assert told["Frames"] == ("12", "11", False)
    assert told["Step"] == ("0.50 mm", "0.52 mm", True)
    assert told["Gaps"] == ("none", "between 8 and 9", False)
    assert told["Begins in front of the subject"] == ("yes", "yes", True)
    assert told["Ends at the back of it, in the air"] == ("yes", "no", False)
    assert told["Of the subject, sharp in some frame"] == ("all 5.0 mm", "91 %", False)


def test_what_is_not_known_is_not_said():
    told = rows({})
    assert told["Step"][1:] == ("can't tell", None)
    assert told["Gaps"][1:] == ("can't tell", None)
    assert told["Begins in front of the subject"][1:] == ("can't tell", None)


def test_numbers_are_ticked_and_words_are_said():
    assert to_count(FOUND) == [
        ("Manual focus.", []),
        ("1 2 3", [1, 2, 3]),
        ("4 5", [4, 5]),
        ("5 is in the air", []),
    ]

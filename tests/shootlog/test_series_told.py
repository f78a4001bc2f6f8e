"""Who hears of what was found in a series, and that a drawing holds its tongue too."""

from shootlog.series_told import told_of, without


def found(slug, topic="stacking"):
    return {"finding": slug, "answer": "yes", "topic": topic, "words": slug, "sure": "measured"}


RESULT = {
    "findings": [found("stack-gap"), found("exposure-jump", "exposure"), found("stack-order")],
    "gaps": [[2, 3]],
    "exposure_jumps": [[1, 2]],
    "moved": [{"between": [1, 2]}],
}


def test_what_nobody_holds_is_said():
    told = told_of(RESULT)
    assert [f["finding"] for f in told.said] == ["stack-gap", "exposure-jump", "stack-order"]
    assert not told.held
    assert told.not_said == set()


def test_a_topic_whose_week_is_to_come_waits():
    told = told_of(RESULT, why_held=lambda slug, topic: "to come" if topic == "stacking" else "")
    assert [f["finding"] for f in told.said] == ["exposure-jump"]
    assert {f["finding"]: why for f, why in told.held} == {
        "stack-gap": "to come",
        "stack-order": "to come",
    }


def test_what_was_set_aside_or_waived_is_not_said():
    told = told_of(RESULT, aside={"stack-gap"}, waived={"stack-order"})
    assert [f["finding"] for f in told.said] == ["exposure-jump"]
    assert [f["finding"] for f in told.aside] == ["stack-gap"]


def test_one_point_and_two_beside_it():
    five = {"findings": [found(f"finding-{k}") for k in range(5)]}
    told = told_of(five)
    assert len(told.said) == 3
    assert [why for _, why in told.held] == ["Three others come before it."] * 2


def test_a_drawing_shows_nothing_of_what_is_held():
    left = without(RESULT, {"stack-gap"})
    assert left["gaps"] == []
    assert left["exposure_jumps"] == [[1, 2]]
    assert RESULT["gaps"] == [[2, 3]]

"""What levels need adds up, by level and by product."""

from optimiser.model.needs import LevelNeeds

SOME = LevelNeeds({"L1": {"B-120": 4, "K-110": 9}, "L2": {"B-120": 1}})


def test_it_equals_a_plain_mapping_and_knows_nothing_of_other_levels() -> None:
    assert SOME == {"L1": {"B-120": 4, "K-110": 9}, "L2": {"B-120": 1}}
    assert (SOME.of("L1", "K-110"), SOME.of("L2", "K-110"), SOME.of("L9", "B-120")) == (9, 0, 0)
    assert SOME.at("L9") == {}


def test_needs_add_up() -> None:
    more = LevelNeeds({"L2": {"B-120": 2, "T-75": 500}, "L3": {"B-120": 3}})
    assert SOME + more == {
        "L1": {"B-120": 4, "K-110": 9},
        "L2": {"B-120": 3, "T-75": 500},
        "L3": {"B-120": 3},
    }
    assert (SOME + more).total() == {"B-120": 10, "K-110": 9, "T-75": 500}
    assert SOME.total(["L2", "L9"]) == {"B-120": 1}


def test_it_never_changes_with_what_it_was_made_from() -> None:
    given = {"L1": {"B-120": 4}}
    needs = LevelNeeds(given)
    given["L1"]["B-120"] = 5
    assert needs.of("L1", "B-120") == 4

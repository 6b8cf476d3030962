"""Places with one cause are one line: a missing bracket size with all its places, found without a service."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.planned_pieces import NotPlanned
from optimiser.planning.grouped_places import grouped_places


def no_bracket(number: int, least: int, greatest: int) -> NotPlanned:
    reaches = f"{least} to {greatest} mm" if least < greatest else f"{least} mm"
    return NotPlanned(
        run=f"L{number:02}-E",
        level=f"L{number:02}",
        from_mm=1200 * number,
        to_mm=1200 * (number + 1),
        what="bracket",
        reason=f"run L{number:02}-E, piece from {1200 * number} to {1200 * (number + 1)} mm: the gap at its brackets is"
        f" 117 mm, so a bracket must reach {reaches}; the nearest on offer is K-100 (100 mm)",
        mend=f"add a bracket that reaches {reaches} to the products",
    )


def test_one_missing_size_is_one_line_with_its_places() -> None:
    (group,) = grouped_places([no_bracket(number, 80 + number % 4, 95 + number % 3) for number in range(74)])
    assert group.mend == "add a bracket that reaches 83 to 95 mm to the products"
    assert group.reason == "no bracket fits; the nearest on offer is K-100 (100 mm)"
    assert len(group.places) == 74
    assert "level L02, run L02-E, 2400 to 3600 mm" in group.places


def test_a_place_alone_keeps_its_own_words_and_other_causes_stay_apart() -> None:
    wide = NotPlanned(
        run="L01-N", level="L01", from_mm=0, to_mm=900, what="piece",
        reason="the gap of 410 mm is above the detail's 350 mm", mend="use a detail tested for it",
    )  # fmt: skip
    groups = grouped_places([wide, no_bracket(1, 80, 90), wide.model_copy(update={"run": "L01-S"})])
    assert [(len(group.places), group.mend) for group in groups] == [
        (2, "use a detail tested for it"),
        (1, "add a bracket that reaches 80 to 90 mm to the products"),
    ]
    assert groups[0].runs == ("L01-N", "L01-S")
    assert groups[1].reason.startswith("the gap at its brackets is 117 mm")


@given(st.lists(st.tuples(st.integers(40, 200), st.integers(0, 30)), min_size=1, max_size=30))
def test_the_size_of_a_line_serves_each_of_its_places_and_no_place_is_lost(
    reaches: list[tuple[int, int]],
) -> None:
    places = [no_bracket(number, least, least + more) for number, (least, more) in enumerate(reaches)]
    groups = grouped_places(places)
    assert sum(len(group.places) for group in groups) == len(places)
    sizes = [int(group.mend.split("reaches ")[1].split()[0]) for group in groups]
    assert all(any(least <= size <= least + more for size in sizes) for least, more in reaches)

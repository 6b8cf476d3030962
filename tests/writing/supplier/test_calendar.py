"""The delivery calendar (.ics) and the chart of boards arriving, standing and used."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from icalendar import Calendar

from optimiser.model.plan import Plan
from optimiser.model.project import Level
from optimiser.planning.plan import plan
from optimiser.writing.drawing.shapes import text_width
from optimiser.writing.file_names import FILES
from optimiser.writing.office import level_chart
from optimiser.writing.office.level_chart import level_chart_svg
from optimiser.writing.supplier.calendar import delivery_calendar
from tests.builders.levels import building, week, weekly
from tests.builders.plans_by_hand import tower
from tests.builders.small_plan import small_plan


def entries(made: Plan, **more: Any) -> list[Any]:
    return [
        part
        for part in Calendar.from_ical(delivery_calendar(made, **more)).walk()
        if part.name != "VCALENDAR"
    ]


def test_each_delivery_and_each_last_day_to_order_has_an_entry() -> None:
    made = plan(weekly(), staging="level")
    found = entries(made)
    arrivals = [entry for entry in found if "Boards and brackets" in entry["summary"]]
    assert [(entry["dtstart"].dt, entry["dtend"].dt) for entry in arrivals] == [
        (delivery.deliver_on, date.fromordinal(delivery.deliver_on.toordinal() + 1))
        for delivery in made.deliveries
        if delivery.deliver_on
    ]
    last_days = {entry["dtstart"].dt for entry in found if entry["summary"].startswith("Last day to order")}
    assert last_days == {line.order_by for line in made.order.lines if line.packs}
    assert "Packs: 2 x B-120" in arrivals[0]["description"]


def test_a_superseded_revision_says_so_in_every_entry_and_does_not_overwrite_the_newer_one() -> None:
    made = plan(weekly(), staging="level")
    drafted = entries(made)
    older = entries(made, revision=1, superseded_by=2)
    newer = entries(made, revision=2)
    assert [entry["summary"] for entry in older] == [
        f"Superseded by revision 2: {entry['summary']}" for entry in drafted
    ]
    assert [entry["summary"] for entry in newer] == [entry["summary"] for entry in drafted]
    assert [entry["uid"] for entry in older] == [entry["uid"] for entry in newer]
    assert {entry["sequence"] for entry in older} == {1}
    assert {entry["sequence"] for entry in newer} == {2}
    named = Calendar.from_ical(delivery_calendar(made, revision=1, superseded_by=2))["x-wr-calname"]
    assert named.endswith(", revision 1, superseded by 2")


def test_deliveries_put_together_name_all_their_levels() -> None:
    found = entries(plan(weekly(truck_pallets=4, combine="fewest_loads"), staging="level"))
    summaries = [entry["summary"] for entry in found]
    assert "Boards and brackets for L1, L2" in summaries
    assert any("1 load" in entry["description"] for entry in found if "Boards" in entry["summary"])


@pytest.mark.parametrize(
    ("packs", "goods"),
    [
        ({"B-120": 1}, "Boards"),
        ({"K-110": 1, "A-1": 1}, "Brackets"),
        ({"A-1": 1, "T-1": 2}, "Anchors and tape"),
        ({"T-1": 2, "B-120": 0}, "Tape"),
    ],
)
def test_a_delivery_is_named_by_what_it_brings(packs: dict[str, int], goods: str) -> None:
    made = small_plan()
    only = made.deliveries[0].model_copy(update={"packs": packs})
    arrival, *_ = entries(made.model_copy(update={"deliveries": (only,)}))
    assert arrival["summary"] == f"{goods} for L01"


def test_equal_plans_give_equal_files_and_the_stamp_is_not_the_clocks() -> None:
    made = plan(weekly(), staging="level")
    assert delivery_calendar(made) == delivery_calendar(made)
    stamps = {entry["dtstamp"].dt for entry in entries(made)}
    assert stamps == {datetime(2027, 3, 1, tzinfo=UTC)}
    given = datetime(2027, 1, 5, 8, tzinfo=UTC)
    assert {entry["dtstamp"].dt for entry in entries(made, stamp=given)} == {given}


def test_a_delivery_that_moves_keeps_its_identity() -> None:
    made = plan(weekly(), staging="level")
    moved = tuple(
        level.model_copy(update={"needed_on": week(number + 2)})
        for number, level in enumerate(made.project.levels)
    )
    later = plan(made.project.model_copy(update={"levels": moved}), staging="level")

    def identities(of: Plan) -> list[str]:
        return [str(entry["uid"]) for entry in entries(of) if "Boards" in entry["summary"]]

    assert identities(made) == identities(later)
    everything = [str(entry["uid"]) for entry in entries(made)]
    assert len(set(everything)) == len(everything)


def test_deliveries_of_the_same_levels_have_identities_of_their_own() -> None:
    made = plan(weekly(), staging="level")
    twice = made.model_copy(update={"deliveries": (made.deliveries[0], made.deliveries[0])})
    arrivals = [str(entry["uid"]) for entry in entries(twice) if "Boards" in entry["summary"]]
    assert len(set(arrivals)) == 2


def test_a_delivery_without_a_day_becomes_a_task() -> None:
    levels = (Level(level="L1", sequence=1),)
    found = entries(plan(building(storeys=1).model_copy(update={"levels": levels})))
    assert [(entry.name, entry["summary"]) for entry in found] == [
        ("VTODO", "Give L1 its day: a delivery without needed_on")
    ]


def test_an_order_of_nothing_is_still_a_calendar() -> None:
    made = plan(weekly(), staging="level").model_copy(update={"deliveries": ()})
    empty = made.model_copy(update={"order": made.order.model_copy(update={"lines": ()})})
    assert [entry["summary"] for entry in entries(empty)] == [
        "Nothing to order: what is on site covers all that is planned"
    ]


# -- the chart


def bars(svg: str, kind: str) -> int:
    return sum(
        mark.get("class") == kind
        for mark in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}rect")
    )


def test_the_chart_has_three_bars_a_delivery_and_says_what_it_shows() -> None:
    svg = level_chart_svg(plan(weekly(), staging="level"))
    assert [bars(svg, kind) for kind in ("arriving", "standing", "used")] == [4, 4, 4]
    assert "2027-03-01 (L1): 4 boards arriving, 4 standing, 4 used" in svg
    assert "27" in svg
    greys = {mark.get("fill") for mark in ElementTree.fromstring(svg).iter() if mark.get("fill")}
    assert greys <= {"none", "#ffffff", "#b5b5b5", "#404040", "#000000"}


@pytest.mark.parametrize("deliveries", [1, 2, 4])
def test_no_words_of_the_chart_run_out_of_it_however_few_deliveries_there_are(deliveries: int) -> None:
    drawn = ElementTree.fromstring(level_chart_svg(plan(weekly(deliveries), staging="level")))
    texts = [
        mark for mark in drawn.iter() if mark.tag.endswith("text") and mark.get("text-anchor") == "start"
    ]
    assert len(texts) > 5
    for mark in texts:
        words = mark.text or ""
        wide = text_width(words, float(mark.attrib["font-size"]), mark.get("font-weight") == "bold")
        assert float(mark.attrib["x"]) + wide <= float(drawn.attrib["width"]), words


@pytest.mark.parametrize("made", [small_plan(), tower()])
def test_plans_from_elsewhere_have_a_chart_and_a_calendar(made: Plan) -> None:
    assert ElementTree.fromstring(level_chart_svg(made)).tag.endswith("svg")
    assert entries(made)


def test_both_are_among_the_files_of_an_order(tmp_path: Path) -> None:
    assert {"deliveries.ics", "levels.svg"} <= set(FILES)


def test_more_deliveries_than_a_page_holds_stand_in_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    made = plan(weekly(), staging="level")
    one_row = level_chart_svg(made)
    monkeypatch.setattr(level_chart, "_IN_A_ROW", 1)
    rows = level_chart_svg(made)
    assert [axes(svg) for svg in (one_row, rows)] == [1, 4]
    assert bars(rows, "arriving") == bars(one_row, "arriving") == 4


def axes(svg: str) -> int:
    return sum(mark.text == "boards" for mark in ElementTree.fromstring(svg).iter())

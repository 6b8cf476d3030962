"""Random projects are planned, the judge accepts every plan, and rejects it once anything in it is changed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from optimiser.checking import broken_rules_of_plan
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan, Staging
from optimiser.model.project import Project
from optimiser.planning.plan import BreaksRules, plan
from tests.builders.checking_examples import REMOVED, bare_plan, changed, plan_with
from tests.builders.random_projects import projects

pytestmark = pytest.mark.usefixtures("searched_briefly")

STAGINGS: tuple[Staging, ...] = ("whole", "carry", "level")
MODEST = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)


def planned(project: Project, staging: Staging) -> Plan:
    """The project's plan; a project of which nothing at all can be built is drawn again."""
    try:
        return plan(project, staging=staging)
    except BreaksRules:
        raise
    except CannotBeDone:
        assume(False)
        raise


def judged(data: dict[str, Any], project: Project | None = None) -> list[str]:
    """The judge's lines on a plan given as JSON's tables, against its project where that matters.

    In JSON every rule of the detail is given, so only the project itself knows which are placeholders.
    """
    return broken_rules_of_plan(Plan.model_validate(data), project)


# Numbers that may be one more or less without breaking a rule, each for its reason.
FREE = re.compile(
    r"project\.|.*solve_seconds|.*scrap_fraction|max_carry_stages"
    r"|.*\.lower_bound(_cents)?"  # a bound may be weaker than what is known
    r"|pieces\.\d+\.width_m(in|ax)_mm"  # a window may be narrower than what the detail allows
    r"|pieces\.\d+\.gap_m(in|ax)_mm"  # rounded either way
    r"|pieces\.\d+\.brackets_at_mm\.\d+"  # halves rounded either way, and moved clear of mullions
    r"|not_planned\..*"  # a bracket's stretch
    r"|layouts\.\d+\.stage"  # material on site may have been there earlier
    r"|forecast\.(draws|seed|covered|covered_alone)"  # the draws are not in the plan
    r"|layouts\.\d+\.strips\.\d+\.width_mm"  # with trimming a strip may be wider
    r"|questions\..*"  # asked again nowhere: only that their places exist is judged
)


def numbers_in(data: Any, path: str = "") -> Iterator[tuple[str, int]]:
    """Every whole number in nested tables with its path."""
    if isinstance(data, dict):
        for key, value in data.items():
            if "." not in key:
                yield from numbers_in(value, f"{path}.{key}" if path else key)
    elif isinstance(data, list):
        for index, value in enumerate(data):
            yield from numbers_in(value, f"{path}.{index}")
    elif isinstance(data, int) and not isinstance(data, bool) and not FREE.fullmatch(path):
        yield path, data


Change = dict[str, Any]
"""Paths and their new values; none when the plan has nothing to change that way."""


def a_piece_dropped(plan: dict[str, Any]) -> Iterator[Change]:
    for index in range(len(plan["pieces"])):
        yield {"pieces": plan["pieces"][:index] + plan["pieces"][index + 1 :]}


def a_layout_dropped(plan: dict[str, Any]) -> Iterator[Change]:
    for index in range(len(plan["layouts"])):
        yield {"layouts": plan["layouts"][:index] + plan["layouts"][index + 1 :]}


def a_layout_doubled(plan: dict[str, Any]) -> Iterator[Change]:
    for index, layout in enumerate(plan["layouts"]):
        yield {"layouts": [*plan["layouts"], layout]}
        yield {f"layouts.{index}.repeat": 2}


def a_width_out_of_its_window(plan: dict[str, Any]) -> Iterator[Change]:
    """One mm too narrow or too wide, in the piece, its layout and its strip alike: only the window tells."""
    cuts = {
        piece["id"]: f"layouts.{a}.strips.{b}"
        for a, layout in enumerate(plan["layouts"])
        for b, strip in enumerate(layout["strips"])
        for piece in strip["pieces"]
        if len(strip["pieces"]) == 1
    }
    for index, piece in enumerate(plan["pieces"]):
        if piece["cut_width_start_mm"] == piece["cut_width_end_mm"] and piece["id"] in cuts:
            for width in (piece["width_min_mm"] - 1, piece["width_max_mm"] + 1):
                yield {
                    f"pieces.{index}.cut_width_start_mm": width,
                    f"pieces.{index}.cut_width_end_mm": width,
                    f"{cuts[piece['id']]}.width_mm": width,
                    f"{cuts[piece['id']]}.pieces.0.width_mm": width,
                }


def a_stage_swapped(plan: dict[str, Any]) -> Iterator[Change]:
    sequences = {level["sequence"] for level in plan["project"]["levels"]}
    for index, layout in enumerate(plan["layouts"]):
        yield {f"layouts.{index}.stage": max(sequences) + 1}
        if not layout["stock"].startswith("stock-"):
            for other in sorted(sequences - {layout["stage"]}):
                yield {f"layouts.{index}.stage": other}


def a_cent_changed(plan: dict[str, Any]) -> Iterator[Change]:
    def a_cent_more(text: str) -> str:
        cents = int(text.replace(".", "")) + 1
        return f"{cents // 100}.{cents % 100:02d}"

    yield {"order.total": a_cent_more(plan["order"]["total"])}
    for index, line in enumerate(plan["order"]["lines"]):
        for field in ("price", "amount"):
            yield {f"order.lines.{index}.{field}": a_cent_more(line[field])}
    for index, delivery in enumerate(plan["deliveries"]):
        yield {f"deliveries.{index}.amount": a_cent_more(delivery["amount"])}


def a_day_later(plan: dict[str, Any]) -> Iterator[Change]:
    for table, rows in (("order.lines", plan["order"]["lines"]), ("deliveries", plan["deliveries"])):
        for index, row in enumerate(rows):
            for field in ("deliver_on", "order_by"):
                if row[field] is not None:
                    later = date.fromisoformat(row[field]) + timedelta(days=1)
                    yield {f"{table}.{index}.{field}": later.isoformat()}


def a_bracket_moved(plan: dict[str, Any]) -> Iterator[Change]:
    """By 7 mm, on runs without mullions, where every position is settled."""
    free = {run["run"] for run in plan["project"]["runs"] if not run["mullions_mm"]}
    for index, piece in enumerate(plan["pieces"]):
        if piece["run"] in free:
            for number, at in enumerate(piece["brackets_at_mm"]):
                yield {f"pieces.{index}.brackets_at_mm.{number}": at + 7}


def a_bracket_exchanged(plan: dict[str, Any]) -> Iterator[Change]:
    codes = [product["code"] for product in plan["project"]["products"] if product["kind"] == "bracket"]
    for index, piece in enumerate(plan["pieces"]):
        if piece["bracket"] is not None:
            yield from ({f"pieces.{index}.bracket": code} for code in codes if code != piece["bracket"])


def a_joint_on_a_mullion(plan: dict[str, Any]) -> Iterator[Change]:
    for index, (left, right) in enumerate(zip(plan["pieces"], plan["pieces"][1:], strict=False)):
        if left["run"] == right["run"] and left["to_mm"] == right["from_mm"]:
            for mullion in [*left["mullions_at_mm"], *right["mullions_at_mm"]]:
                yield {f"pieces.{index}.to_mm": mullion, f"pieces.{index + 1}.from_mm": mullion}


def a_bound_above_the_boards(plan: dict[str, Any]) -> Iterator[Change]:
    for code, count in plan["boards"].items():
        boards = plan["boards"] | {code: count | {"lower_bound": count["count"] + 1, "optimal": False}}
        yield {"boards": boards}
        if not count["optimal"]:
            yield {"boards": plan["boards"] | {code: count | {"optimal": True}}}
    for index, proof in enumerate(plan["proofs"]):
        yield {f"proofs.{index}.lower_bound": proof["boards"] + 1}
        yield {f"proofs.{index}.lower_bound_cents": proof["cost_cents"] + 1}
        yield {f"proofs.{index}.lower_bound_any_joints": proof["lower_bound"] + 1}


def a_left_over_invented(plan: dict[str, Any]) -> Iterator[Change]:
    for index, item in enumerate(plan["left_over"]):
        yield {"left_over": [*plan["left_over"], item]}
        yield {f"left_over.{index}.width_mm": item["width_mm"] + 1}


def a_line_or_delivery_dropped(plan: dict[str, Any]) -> Iterator[Change]:
    lines, deliveries = plan["order"]["lines"], plan["deliveries"]
    for index in range(len(lines)):
        yield {"order.lines": lines[:index] + lines[index + 1 :]}
    for index in range(len(deliveries)):
        yield {"deliveries": deliveries[:index] + deliveries[index + 1 :]}


def a_left_out_stretch_dropped(plan: dict[str, Any]) -> Iterator[Change]:
    """Nothing that cannot be built may pass in silence."""
    for index in range(len(plan["not_planned"])):
        yield {"not_planned": plan["not_planned"][:index] + plan["not_planned"][index + 1 :]}


def a_remainder_misstated(plan: dict[str, Any]) -> Iterator[Change]:
    parts = plan["remainders"]
    for index, part in enumerate(parts):
        yield {"remainders": parts[:index] + parts[index + 1 :]}
        yield {"remainders": [*parts, part]}
        for field in ("name", "board", "cut_from", "kind", "level", "waits_for", "code"):
            yield {f"remainders.{index}.{field}": "tapered" if field == "kind" else "X"}
        for field in ("length_mm", "width_mm", "stage", "cut_stage", "pieces", "layout"):
            yield {f"remainders.{index}.{field}": part[field] + 1}


def strips_out_of_the_order_of_delivery(plan: dict[str, Any]) -> Iterator[Change]:
    sequence = {level["level"]: level["sequence"] for level in plan["project"]["levels"]}
    needed = {piece["id"]: sequence[piece["level"]] for piece in plan["pieces"]}
    for index, layout in enumerate(plan["layouts"]):
        first = [min(needed[piece["id"]] for piece in strip["pieces"]) for strip in layout["strips"]]
        if first[0] != first[-1]:
            yield {f"layouts.{index}.strips": layout["strips"][::-1]}


def a_word_withheld(plan: dict[str, Any]) -> Iterator[Change]:
    yield {"cautions": [" "]}
    if any("laceholder" in warning for warning in plan["warnings"]):
        yield {"warnings": []}


WAYS: tuple[Callable[[dict[str, Any]], Iterator[Change]], ...] = (
    a_piece_dropped,
    a_layout_dropped,
    a_layout_doubled,
    a_width_out_of_its_window,
    a_stage_swapped,
    a_cent_changed,
    a_day_later,
    a_bracket_moved,
    a_bracket_exchanged,
    a_joint_on_a_mullion,
    a_bound_above_the_boards,
    a_left_over_invented,
    a_line_or_delivery_dropped,
    a_left_out_stretch_dropped,
    a_remainder_misstated,
    strips_out_of_the_order_of_delivery,
    a_word_withheld,
)


@MODEST
@given(projects(), st.sampled_from(STAGINGS), st.data())
def test_the_judge_accepts_every_plan_and_finds_what_is_changed_in_it(
    project: Project, staging: Staging, data: st.DataObject
) -> None:
    """A random project is planned once, and everything is asked of that plan."""
    made = planned(project, staging)
    assert broken_rules_of_plan(made) == []
    assert broken_rules_of_plan(made, project) == []
    tables = made.model_dump(mode="json")
    assert broken_rules_of_plan(Plan.model_validate_json(made.model_dump_json()), project) == []
    assert_every_number_counts(tables, project, data)
    assert_every_way_of_changing_it_is_found(tables, project, data)


def assert_every_number_counts(tables: dict[str, Any], project: Project, data: st.DataObject) -> None:
    """Any number that is one more or less is found, save those that are free for a stated reason."""
    numbers = [(path, value) for path, value in numbers_in(tables) if not FREE.match(path)]
    for path, value in data.draw(st.lists(st.sampled_from(numbers), min_size=8, max_size=8)):
        other = value + data.draw(st.sampled_from((-1, 1)))
        assert judged(changed(tables, {path: other}), project), (
            f"{path}: {value} changed to {other} was not found"
        )


def assert_every_way_of_changing_it_is_found(
    tables: dict[str, Any], project: Project, data: st.DataObject
) -> None:
    """A change of each kind for which the plan has a place."""
    for way in WAYS:
        changes = list(way(tables))
        if changes:
            change = data.draw(st.sampled_from(changes), label=way.__name__)
            assert judged(changed(tables, change), project), f"{way.__name__}: {change} was not found"


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_every_way_of_changing_a_plan_is_found_on_a_plan_worked_out_by_hand(
    way: Callable[[dict[str, Any]], Iterator[Change]],
) -> None:
    """All changes of each way, on a plan that has something to change that way."""
    if way is a_left_out_stretch_dropped:
        left_out = {"from_mm": 0, "to_mm": 600, "what": "piece"}
        made = bare_plan(
            [(0, 400)], [{"from_mm": 600, "to_mm": 1200}], length_mm=1200, not_planned=[left_out]
        )
        expected = "run R: nothing covers 0 to 600 mm"
        assert expected not in broken_rules_of_plan(made)
    else:
        without_lap = {"project.detail.tape_lap_mm": REMOVED, "warnings": ["Placeholders: tape_lap_mm 50"]}
        made, expected = plan_with(without_lap), ""
        assert broken_rules_of_plan(made) == []
    tables = made.model_dump(mode="json")
    changes = list(way(tables))
    assert changes
    for change in changes:
        assert any(expected in line for line in judged(changed(tables, change))), change

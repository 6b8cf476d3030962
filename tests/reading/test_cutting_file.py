"""Cutting problems, results and plans from JSON: every fault at once, with its path and mend."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.cutting.problem import CuttingResult
from optimiser.model.plan import Plan
from optimiser.reading import (
    CannotBeDone,
    UnusableInput,
    cutting_problem_from_json,
    read_cutting_problem,
    read_plan,
)
from optimiser.writing.data.plan_json import plan_json
from tests.builders.small_plan import small_plan

SOUND: dict[str, Any] = {
    "board": {"length_mm": 1200, "width_mm": 1000, "kerf_mm": 0},
    "trim": False,
    "pieces": [
        {
            "id": "L01-N-003",
            "length_mm": 1200,
            "width_min_mm": 165,
            "width_max_mm": 172,
            "quantity": 2,
            "stage": 1,
        },
        {"id": "L01-N-004", "length_mm": 900, "width_min_mm": 165, "width_max_mm": 172},
    ],
    "offcuts": [{"id": "F7", "length_mm": 1200, "width_mm": 380, "quantity": 1, "stage": 1}],
    "max_carry_stages": None,
}
RESULT: dict[str, Any] = {
    "boards": 1, "lower_bound": 1, "optimal": True, "solve_seconds": 0.41, "boards_by_stage": {"1": 1},
    "layouts": [{"stock": "board", "stage": 1, "repeat": 1, "strips": [
        {"width_mm": 165, "pieces": [{"id": "L01-N-003", "length_mm": 1200, "width_mm": 165}]}]}],
    "left_over": [{"length_mm": 1200, "width_mm": 175, "stage": 1, "quantity": 12}],
}  # fmt: skip


def lines_of(value: object) -> tuple[str, ...]:
    with pytest.raises(UnusableInput) as refused:
        cutting_problem_from_json(value)
    return refused.value.lines()


def test_the_contracts_example_is_read_with_its_defaults(tmp_path: Path) -> None:
    (tmp_path / "p.json").write_text(json.dumps(SOUND), encoding="utf-8")
    problem = read_cutting_problem(tmp_path / "p.json")
    assert problem.pieces[1].quantity == 1
    assert problem.counts_boards
    several = {**SOUND, "boards": [{"code": "A", "length_mm": 1200, "width_mm": 1000, "price_cents": 7}]}
    del several["board"]
    assert not cutting_problem_from_json(several).counts_boards


def test_own_keys_are_left_alone() -> None:
    assert cutting_problem_from_json({**SOUND, "remark": "from the archive"}) == cutting_problem_from_json(
        SOUND
    )


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda p: p["board"].pop("length_mm"), "board.length_mm: is missing; add it"),
        (lambda p: p["board"].update(width_mm=0), "board.width_mm = 0: must be above 0"),
        (lambda p: p.pop("board"), "board: is missing; write"),
        (
            lambda p: p.update(boards=[{"length_mm": 9, "width_mm": 9}]),
            "board: there are both `board` and `boards`",
        ),
        (
            lambda p: p["pieces"][0].update(length_mm=1200.5),
            "pieces[0].length_mm = 1200.5: must be a whole number",
        ),
        (
            lambda p: p["pieces"][0].update(length_mm="900"),
            "pieces[0].length_mm = 900: must be a whole number; write 900",
        ),
        (lambda p: p["pieces"][0].update(quantity=0), "pieces[0].quantity = 0: must be at least 1"),
        (lambda p: p["pieces"][0].update(id=5), "pieces[0].id = 5: must be text; write it in quotes"),
        (
            lambda p: p["pieces"][0].update(width_min_mm=180),
            "pieces[0]: piece L01-N-003: width_min_mm 180 is above",
        ),
        (
            lambda p: p["pieces"][1].update(id="L01-N-003"),
            "pieces[1].id = 'L01-N-003': is already at pieces[0]",
        ),
        (
            lambda p: p["pieces"][1].update(boards=["B-9"]),
            "pieces[1].boards[0] = 'B-9': there is no such board; write board",
        ),
        (
            lambda p: p["pieces"][1].update(lenght_mm=9),
            None,
        ),  # a stranger while length_mm is there: left alone
        (
            lambda p: p["pieces"][1].update(quantty=9),
            "pieces[1].quantty = 9: the key is not known; write quantity",
        ),
        (lambda p: p.update(trim="maybe"), "trim = 'maybe': must be true or false"),
        (lambda p: p.update(max_carry_stages=-1), "max_carry_stages = -1: must be at least 0"),
        (lambda p: p.update(pieces=None), "pieces = 'null'"),
        (lambda p: p.update(pieces={}), "pieces = 'an object': must be a list"),
        (lambda p: p["offcuts"].append(7), "offcuts[1] = 7: must be an object"),
        (lambda p: p["offcuts"][0].update(id="board"), "offcuts[0].id = 'board': is already at board"),
    ],
)
def test_a_fault_is_told_with_its_path(change: Any, told: str | None) -> None:
    faulty = deepcopy(SOUND)
    change(faulty)
    if told is None:
        assert cutting_problem_from_json(faulty)
    else:
        lines = lines_of(faulty)
        # (a JSON null has no value to show)
        assert any(line.startswith(told.removesuffix(" = 'null'")) for line in lines), lines


def test_all_faults_are_told_at_once() -> None:
    faulty = deepcopy(SOUND)
    faulty["board"]["kerf_mm"] = -1
    faulty["pieces"][0]["length_mm"] = "long"
    faulty["pieces"][1]["id"] = "L01-N-003"
    faulty["offcuts"][0]["quantity"] = None
    assert [line.split(" ")[0].rstrip(":") for line in sorted(lines_of(faulty))] == [
        "board.kerf_mm", "offcuts[0].quantity", "pieces[0].length_mm", "pieces[1].id",
    ]  # fmt: skip


def test_half_a_letter_is_told_wherever_it_stands(tmp_path: Path) -> None:
    """JSON can escape a lone surrogate, which no file can hold: the result could never be written."""
    changed = deepcopy(SOUND)
    changed["pieces"][1]["id"] = "L\ud83d"
    changed["pieces"][1]["width_max_mm"] = 1  # pydantic would put the id into its message
    changed["offcuts"][0]["\udc00"] = 1
    assert lines_of(changed) == (
        "pieces[1].id = 'L\N{REPLACEMENT CHARACTER}': has a character that cannot be written; type it again",
        "offcuts[0] = '\N{REPLACEMENT CHARACTER}': has a character that cannot be written; type it again",
    )
    (tmp_path / "r.json").write_text(
        json.dumps({**RESULT, "boards_by_code": {"\ud83d": 1}}), encoding="utf-8"
    )
    with pytest.raises(UnusableInput, match=r"boards_by_code = .*cannot be written"):
        read_plan(tmp_path / "r.json")
    changed = deepcopy(SOUND)
    changed["pieces"][1]["id"] = "\ud83d\ude00 and L\N{LATIN SMALL LETTER E WITH ACUTE}"
    assert (
        cutting_problem_from_json(json.loads(json.dumps(changed)))
        .pieces[1]
        .id.startswith("\N{GRINNING FACE}")
    )


def test_a_name_of_thousands_of_letters_drowns_neither_place_nor_mend() -> None:
    changed = deepcopy(SOUND)
    changed["pieces"][0] |= {"id": "a" * 5000, "width_max_mm": 1}
    (line,) = lines_of(changed)
    assert len(line) == 1000
    assert line.startswith("pieces[0]: piece aaaa")
    assert " ... " in line
    assert line.endswith("aaa: width_min_mm 165 is above width_max_mm 1; correct it")


def test_pieces_larger_than_every_board_are_a_job_that_cannot_be_done() -> None:
    large = deepcopy(SOUND)
    large["pieces"][0]["length_mm"] = 1300
    large["pieces"][1].update(width_min_mm=1001, width_max_mm=1001)
    with pytest.raises(CannotBeDone) as refused:
        cutting_problem_from_json(large)
    assert refused.value.reasons == (
        "piece 'L01-N-003' (1300 x 165 mm) is larger than every board it may be cut from (1200 x 1000);"
        " divide it, or offer a larger board",
        "piece 'L01-N-004' (900 x 1001 mm) is larger than every board it may be cut from (1200 x 1000);"
        " divide it, or offer a larger board",
    )


def test_a_result_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "r.json"
    path.write_text(json.dumps(RESULT), encoding="utf-8")
    result = read_plan(path)
    assert isinstance(result, CuttingResult)
    assert result.model_dump(mode="json", exclude_defaults=True)["layouts"][0]["stock"] == "board"


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ([], "a plan is a JSON object"),
        ({}, "is neither a plan nor a cutting result; give plan.json or what cut printed"),
        ({**RESULT, "boards": "one"}, "boards = 'one': must be a whole number"),
        ({**RESULT, "layouts": [{}]}, "layouts[0].stock: is missing"),
        ({"project": {}, "boards": {}}, "project.products: is missing"),
    ],
)
def test_faults_of_plans_and_results(value: object, told: str, tmp_path: Path) -> None:
    path = tmp_path / "r.json"
    path.write_text(json.dumps(value), encoding="utf-8")
    with pytest.raises(UnusableInput) as refused:
        read_plan(path)
    assert any(told in line for line in refused.value.lines()), refused.value.lines()


def test_a_plan_is_read_back_with_its_placeholders(tmp_path: Path) -> None:
    from tests.builders.plans_by_hand import small_plan

    plan = small_plan()
    path = tmp_path / "plan.json"
    path.write_text(plan.model_dump_json(by_alias=True), encoding="utf-8")
    read = read_plan(path)
    assert isinstance(read, Plan)
    assert read == plan


def test_a_plan_in_which_something_stands_twice_is_refused_in_words(tmp_path: Path) -> None:
    from tests.builders.plans_by_hand import small_plan

    plan = json.loads(small_plan().model_dump_json(by_alias=True))
    first = plan["project"]["gaps"][0]
    plan["project"]["gaps"].append(first)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(plan), encoding="utf-8")
    with pytest.raises(UnusableInput) as refused:
        read_plan(path)
    assert f"run {first['run']} has two gaps at {first['at_mm']}" in refused.value.lines()[0]


JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@given(
    st.sampled_from([("board",), ("trim",), ("pieces",), ("pieces", 0), ("pieces", 0, "id"), ("pieces", 1, "length_mm"),
                     ("pieces", 0, "boards"), ("offcuts",), ("offcuts", 0, "id"), ("max_carry_stages",), ("boards",)]),
    JSON_VALUES,
)  # fmt: skip
@settings(max_examples=400, deadline=None)
def test_any_json_value_anywhere_is_survived(place: tuple[Any, ...], value: object) -> None:
    changed = deepcopy(SOUND)
    target: Any = changed
    for part in place[:-1]:
        target = target[part]
    target[place[-1]] = value
    lines: tuple[str, ...] = ()
    try:
        cutting_problem_from_json(changed)
    except UnusableInput as refused:
        lines = refused.lines()
    except CannotBeDone as refused:
        lines = refused.reasons
    assert all(line.isprintable() for line in lines)


def test_another_of_our_files_is_told_as_what_it_is(tmp_path: Path) -> None:
    project = {"products": [], "levels": [], "runs": [], "gaps": []}
    plan = json.loads(plan_json(small_plan()))
    for value, wanted, kind, command in (
        (SOUND, "plan", "cutting problem", "cut"),
        (project, "plan", "project", "plan"),
        (project, "cutting problem", "project", "plan"),
        (plan, "cutting problem", "plan", "check"),
    ):
        path = tmp_path / "given.json"
        path.write_text(json.dumps(value))
        with pytest.raises(UnusableInput) as refused:
            (read_plan if wanted == "plan" else read_cutting_problem)(path)
        assert refused.value.lines() == (
            f"the file: is a {kind}, not a {wanted}; give it to barrier-orders {command}, or give the {wanted}",
        )

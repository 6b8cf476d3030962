"""Cutting problems, cutting results and plans from JSON, with JSON paths for every fault."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.errors.problems import MOST_REPORTED, CannotBeDone, Problem, ProblemList, shown
from optimiser.reading.cells import closest
from optimiser.reading.json_text import load_json
from optimiser.reading.model_faults import drop_unknown_fields, report_lone_surrogates, tell_faults
from optimiser.tables.text import counted

if TYPE_CHECKING:
    from optimiser.model.plan import Plan

_TAKEN_BY = {"project": "plan", "cutting problem": "cut", "plan": "check", "cutting result": "check"}


def read_cutting_problem(path: Path) -> CuttingProblem:
    """The cutting problem in a JSON file. Raises UnusableInput and CannotBeDone."""
    return cutting_problem_from_json(load_json(Path(path)))


def cutting_problem_from_json(value: object) -> CuttingProblem:
    """The cutting problem in a parsed JSON value.

    Raises UnusableInput with every problem found, or CannotBeDone naming each piece that is larger than every
    board it may be cut from.
    """
    problems = ProblemList()
    if not isinstance(value, dict):
        message = "a cutting problem is a JSON object"
        problems.add(Problem("", None, None, value, message, 'write {"board": {...}, "pieces": [...]}'))
        problems.raise_if_any()
    assert isinstance(value, dict)
    _refuse_another_kind(value, "cutting problem", problems)
    report_lone_surrogates(value, problems)
    data = drop_unknown_fields(value, CuttingProblem, "", problems)
    if "board" not in data and not data.get("boards"):
        problems.add(
            Problem(
                "board", message="is missing", mend='write "board": {"length_mm": 1200, "width_mm": 1000}'
            )
        )
    elif "board" in data and data.get("boards"):
        problems.add(Problem("board", message="there are both `board` and `boards`", mend="keep one of them"))
        data.pop("board")
    _same_names(data, problems)
    try:
        found = CuttingProblem.model_validate(data)
    except ValidationError as error:
        tell_faults(error, problems, value, told_in_all=True)
        _unknown_boards(data, problems)
        problems.raise_if_any()
        raise CannotBeDone(_too_large(data) or [str(error.errors()[0]["msg"])]) from None
    problems.raise_if_any()
    return found


def read_plan(path: Path) -> Plan | CuttingResult:
    """The plan (`plan.json`) or the cutting result in a JSON file. Raises UnusableInput with JSON paths."""
    value = load_json(Path(path))
    problems = ProblemList()
    if not isinstance(value, dict):
        problems.add(Problem("", None, None, value, "a plan is a JSON object", "give plan.json"))
        problems.raise_if_any()
    if _kind(value) != "cutting result":
        _refuse_another_kind(value, "plan", problems)
    if "project" in value or "order" in value:
        from optimiser.model.plan import Plan

        plan: Plan = _validated(value, Plan, problems)
        return plan
    if "layouts" not in value:
        problems.add(
            Problem(
                "",
                message="is neither a plan nor a cutting result",
                mend="give plan.json or what cut printed",
            )
        )
        problems.raise_if_any()
    result: CuttingResult = _validated(
        {"solve_seconds": 0.0, "left_over": [], **value}, CuttingResult, problems
    )
    return result


def _refuse_another_kind(value: dict[str, Any], wanted: str, problems: ProblemList) -> None:
    """Another of our files than the one wanted: one problem, not one for every key."""
    kind = _kind(value)
    if kind and kind != wanted:
        mend = f"give it to barrier-orders {_TAKEN_BY[kind]}, or give the {wanted}"
        problems.add(Problem("the file", message=f"is a {kind}, not a {wanted}", mend=mend))
        problems.raise_if_any()


def _kind(value: dict[str, Any]) -> str:
    """What a JSON object is by its keys; '' where they leave it open."""
    if isinstance(value.get("runs"), list) and "pieces" not in value:
        return "project"
    if isinstance(value.get("pieces"), list) and ("board" in value or isinstance(value.get("boards"), list)):
        return "cutting problem"
    if "layouts" in value and "order" in value:
        return "plan"
    return "cutting result" if "layouts" in value and "lower_bound" in value else ""


def _validated(value: dict[str, Any], model: type[Any], problems: ProblemList) -> Any:
    report_lone_surrogates(value, problems)
    data = drop_unknown_fields(value, model, "", problems)
    try:
        found = model.model_validate(data)
    except ValidationError as error:
        tell_faults(error, problems, value)
        problems.raise_if_any()
        raise
    problems.raise_if_any()
    return found


def _items(data: dict[str, Any], key: str) -> Iterator[tuple[int, dict[str, Any]]]:
    found = data.get(key)
    if isinstance(found, list):
        for index, item in enumerate(found):
            if isinstance(item, dict):
                yield index, item


def _same_names(data: dict[str, Any], problems: ProblemList) -> None:
    """Ids and codes that occur twice."""
    board = data.get("board")
    single = board.get("code", "board") if isinstance(board, dict) else None
    stocks = {single: "board"} if isinstance(single, str) else {}
    pieces: dict[str, str] = {}
    for key, field, seen in (("boards", "code", stocks), ("offcuts", "id", stocks), ("pieces", "id", pieces)):
        for index, item in _items(data, key):
            name = item.get(field, "board" if key == "boards" else None)
            if not isinstance(name, str):
                continue
            if name in seen:
                problems.add(
                    Problem(f"{key}[{index}].{field}", None, None, name, f"is already at {seen[name]}",
                            "give each its own name")
                )  # fmt: skip
            else:
                seen[name] = f"{key}[{index}]"


def _codes(data: dict[str, Any]) -> set[str]:
    board = data.get("board")
    boards = [board] if isinstance(board, dict) else [item for _, item in _items(data, "boards")]
    return {code for item in boards if isinstance(code := item.get("code", "board"), str)}


def _unknown_boards(data: dict[str, Any], problems: ProblemList) -> None:
    codes = _codes(data)
    for index, piece in _items(data, "pieces"):
        named = piece.get("boards")
        for place, code in enumerate(named if isinstance(named, list) else []):
            if codes and isinstance(code, str) and code not in codes:
                meant = closest(code, sorted(codes))
                problems.add(
                    Problem(f"pieces[{index}].boards[{place}]", None, None, code, "there is no such board",
                            f"write {meant or ' or '.join(sorted(codes)[:10])}")
                )  # fmt: skip


def _too_large(data: dict[str, Any]) -> list[str]:
    """A line for each piece that fits on no board it may be cut from."""
    board = data.get("board")
    boards = [board] if isinstance(board, dict) else [item for _, item in _items(data, "boards")]
    reasons = []
    for _, piece in _items(data, "pieces"):
        named = piece.get("boards") or ()
        may = [item for item in boards if not named or item.get("code", "board") in named]
        length, width = piece["length_mm"], piece["width_min_mm"]
        if any(item["length_mm"] >= length and item["width_mm"] >= width for item in may):
            continue
        sizes = ", ".join(f"{item['length_mm']} x {item['width_mm']}" for item in may)
        reasons.append(
            f"piece {shown(piece['id'])} ({length} x {width} mm) is larger than every board it may be cut from"
            f" ({sizes}); divide it, or offer a larger board"
        )
    if len(reasons) > MOST_REPORTED:
        more = len(reasons) - MOST_REPORTED
        too_large = f"{counted(more, 'more piece')} {'is' if more == 1 else 'are'} too large"
        return [*reasons[:MOST_REPORTED], f"and {too_large}"]
    return reasons

"""Cutting problems, cutting results and plans from JSON, with JSON paths for every fault."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel, ValidationError

from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.reading.cells import closest, nearest, number
from optimiser.reading.json_document import load_json
from optimiser.reading.problems import MOST_REPORTED, CannotBeDone, Problem, ProblemList, shown

if TYPE_CHECKING:
    from optimiser.plan import Plan

_TOO_LARGE = "is larger than every board"
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
    _tell_half_letters(value, problems)
    data = _without_strangers(value, CuttingProblem, "", problems)
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
        _tell(error, problems, value)
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
        from optimiser.plan import Plan

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
    _tell_half_letters(value, problems)
    data = _without_strangers(value, model, "", problems)
    try:
        found = model.model_validate(data)
    except ValidationError as error:
        _tell(error, problems, value)
        problems.raise_if_any()
        raise
    problems.raise_if_any()
    return found


def _tell_half_letters(value: dict[str, Any], problems: ProblemList) -> None:
    """Half of a letter beyond 65535 (a lone surrogate, which JSON can escape) can be written to no file."""
    try:
        json.dumps(value, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        for path, text in _texts(value, ""):
            if any("\ud800" <= letter <= "\udfff" for letter in text):
                problems.add(
                    Problem(path, None, None, text, "has a character that cannot be written", "type it anew")
                )
    except ValueError:  # a whole number of thousands of digits, which is told by itself
        pass


def _texts(value: Any, path: str) -> Iterator[tuple[str, str]]:
    """Every text and key of a JSON value, with its path."""
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _texts(item, f"{path}[{index}]")
    elif isinstance(value, dict):
        for key, item in value.items():
            yield path, key
            yield from _texts(item, _joined(path, key[:60]))


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in get_args(annotation):
        yield from _models_in(argument)


@cache
def _keys_of(model: type[BaseModel]) -> tuple[dict[str, type[BaseModel] | None], frozenset[str]]:
    """A model's JSON keys, each with the model of what it holds (None for plain values and mappings), and all
    keys that may stand there."""
    known = {
        field.alias or name: None
        if getattr(field.annotation, "__origin__", None) is dict
        else next(_models_in(field.annotation), None)
        for name, field in model.model_fields.items()
    }
    if model is CuttingProblem:
        known["board"] = known["boards"]
    return known, frozenset(known.keys() | model.model_fields.keys())


def _without_strangers(value: Any, model: type[BaseModel], path: str, problems: ProblemList) -> Any:
    """The value without keys that the model does not know; one that is near a known key is a problem."""
    if not isinstance(value, dict):
        return value
    known, allowed = _keys_of(model)
    kept: dict[str, Any] = {}
    for key, item in value.items():
        if key not in allowed:
            meant = _meant(key[:80], tuple(name for name in known if name not in value))
            if meant is not None:
                place = _joined(path, key[:60])
                problems.add(Problem(place, None, None, item, "the key is not known", f"write {meant}"))
            continue
        inner = known.get(key)
        if inner is not None and isinstance(item, list):
            item = [
                _without_strangers(one, inner, f"{_joined(path, key)}[{index}]", problems)
                for index, one in enumerate(item)
            ]
        elif inner is not None:
            item = _without_strangers(item, inner, _joined(path, key), problems)
        kept[key] = item
    return kept


@lru_cache(4096)
def _meant(key: str, known: tuple[str, ...]) -> str | None:
    """`closest`, remembered: thousands of pieces may carry the same key of the user's own."""
    return closest(key, known)


def _joined(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key


def _path(location: tuple[int | str, ...], value: Any) -> str:
    """pydantic's location as a JSON path of the user's file."""
    path = ""
    if location[:2] == ("boards", 0) and isinstance(value, dict) and "board" in value:
        path, location = "board", location[2:]
    for part in location:
        path = f"{path}[{part}]" if isinstance(part, int) else _joined(path, part)
    return path


def _tell(error: ValidationError, problems: ProblemList, value: Any) -> None:
    """pydantic's errors in plain words."""
    faults = error.errors(include_url=False)
    for fault in faults:
        depth = len(fault["loc"])
        if fault["type"] == "too_short" and any(
            len(other["loc"]) > depth and other["loc"][:depth] == fault["loc"] for other in faults
        ):
            continue  # only empty because what it holds is faulty, which is told by itself
        if _TOO_LARGE in fault["msg"] or "two " in fault["msg"] or "unknown board" in fault["msg"]:
            continue  # told by the checks over the whole input, which find all of them
        location = tuple(part for part in fault["loc"] if part not in ("function-after", "tuple", "list"))
        message, mend = _plain_words(fault)
        given = None if fault["type"] in ("missing", "value_error") else fault["input"]
        problems.add(Problem(_path(location, value), None, None, given, message, mend))


def _plain_words(fault: Any) -> tuple[str, str]:
    kind, limits = fault["type"], fault.get("ctx", {})
    if kind == "missing":
        return "is missing", "add it"
    if kind in ("int_type", "int_from_float", "int_parsing", "int_parsing_size"):
        return "must be a whole number", _whole_number_mend(fault["input"])
    if kind in ("greater_than", "greater_than_equal"):
        least = limits.get("gt", limits.get("ge"))
        return f"must be {'above' if kind == 'greater_than' else 'at least'} {least}", "correct it"
    if kind in ("less_than", "less_than_equal"):
        most = limits.get("lt", limits.get("le"))
        return f"must be {'below' if kind == 'less_than' else 'at most'} {most}", "correct it"
    if kind in ("bool_type", "bool_parsing"):
        return "must be true or false", "write true or false"
    if kind == "string_type":
        return "must be text", "write it in quotes"
    if kind in ("tuple_type", "list_type"):
        return "must be a list", "write [...]"
    if kind in ("model_type", "dict_type", "model_attributes_type"):
        return "must be an object", "write {...}"
    if kind == "too_short":
        return "must not be empty", "add at least one"
    if kind == "literal_error":
        return f"must be one of {limits.get('expected')}", "choose one"
    message = fault["msg"].removeprefix("Value error, ")
    return message[:1].lower() + message[1:], "correct it"


def _whole_number_mend(given: object) -> str:
    if isinstance(given, (str, float)):
        try:
            found, unit = number(given, "")
        except Exception:
            return "write the number"
        if not unit and abs(found) < 10**12:
            return f"write {nearest(found)}"
    return "write the number"


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
        return [*reasons[:MOST_REPORTED], f"and {more} more pieces are too large"]
    return reasons

"""What is wrong with a JSON value that a model is made of: strange keys, and the model's own refusals in plain words.

Every fault has its JSON path.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache, lru_cache
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from optimiser.cutting.problem import CuttingProblem
from optimiser.errors.problems import Problem, ProblemList
from optimiser.model.products import KINDS
from optimiser.reading.cells import closest
from optimiser.reading.numbers import nearest, number

_TOO_LARGE = "is larger than every board"


def report_lone_surrogates(value: dict[str, Any], problems: ProblemList) -> None:
    """Half of a letter beyond 65535 (a lone surrogate, which JSON can escape) can be written to no file.

    Raises UnusableInput at once: the models' own messages cannot hold it either.
    """
    try:
        json.dumps(value, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        for path, text in _texts(value, ""):
            if any("\ud800" <= letter <= "\udfff" for letter in text):
                problems.add(
                    Problem(path, None, None, text, "has a character that cannot be written", "type it again")
                )
        problems.raise_if_any()
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


def drop_unknown_fields(value: Any, model: type[BaseModel], path: str, problems: ProblemList) -> Any:
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
                drop_unknown_fields(one, inner, f"{_joined(path, key)}[{index}]", problems)
                for index, one in enumerate(item)
            ]
        elif inner is not None:
            item = drop_unknown_fields(item, inner, _joined(path, key), problems)
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


def tell_faults(
    error: ValidationError, problems: ProblemList, value: Any, *, told_in_all: bool = False
) -> None:
    """pydantic's errors in plain words; `told_in_all`: what is there twice, too large or unknown is told by checks over
    the whole input, which find all of them."""
    faults = error.errors(include_url=False)
    for fault in faults:
        depth = len(fault["loc"])
        if fault["type"] == "too_short" and any(
            len(other["loc"]) > depth and other["loc"][:depth] == fault["loc"] for other in faults
        ):
            continue  # only empty because what it holds is faulty, which is told by itself
        if told_in_all and any(words in fault["msg"] for words in (_TOO_LARGE, "two ", "unknown board")):
            continue
        location = tuple(part for part in fault["loc"] if part not in ("function-after", "tuple", "list"))
        location = _without_kind(location)
        if fault["type"] in ("union_tag_not_found", "union_tag_invalid"):
            location = (*location, "kind")
            fault["input"] = (
                fault["input"].get("kind") if isinstance(fault["input"], dict) else fault["input"]
            )
        message, mend = _plain_words(fault)
        given = None if fault["type"] in ("missing", "union_tag_not_found", "value_error") else fault["input"]
        problems.add(Problem(_path(location, value), None, None, given, message, mend))


def _without_kind(location: tuple[int | str, ...]) -> tuple[int | str, ...]:
    """A location without the kind that pydantic puts behind a product's number: products, 3, board, width_mm."""
    for place in range(2, len(location)):
        if location[place - 2] == "products" and location[place] in KINDS:
            return location[:place] + location[place + 1 :]
    return location


def _plain_words(fault: Any) -> tuple[str, str]:
    kind, limits = fault["type"], fault.get("ctx", {})
    if kind in ("missing", "union_tag_not_found"):
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
    if kind == "union_tag_invalid":
        *most, last = (f"'{one}'" for one in KINDS)
        return f"must be one of {', '.join(most)} or {last}", "choose one"
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

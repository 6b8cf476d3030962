"""What is wrong with a scenario, in words that name it, its option, the value that was given and the mend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from pydantic import ValidationError
from pydantic_core import InitErrorDetails, PydanticCustomError

from optimiser.errors.problems import shown

_WHOLE = "give a whole number"


def as_scenario_faults(error: ValidationError, data: Any, options: Sequence[str]) -> ValidationError:
    """The faults of a scenario as it was given (`data`), each with a message of its own and at its place; `options`
    are the names that there are."""
    return ValidationError.from_exception_data(
        "Scenario",
        [
            InitErrorDetails(
                type=PydanticCustomError("scenario", "{words}", {"words": _words(fault, data, options)}),
                loc=fault["loc"],
                input=fault["input"],
            )
            for fault in error.errors(include_url=False)
        ],
    )


def scenario_fault(name: str, words: str) -> PydanticCustomError:
    """A fault of a scenario that is known by its name."""
    return PydanticCustomError("scenario", "{words}", {"words": f"scenario {shown(name)}: {words}"})


def _words(fault: Any, data: Any, options: Sequence[str]) -> str:
    if fault["type"] == "scenario":
        return str(fault["msg"])
    name = data.get("name") if isinstance(data, dict) else None
    which = (
        f"scenario {shown(name)}" if isinstance(name, str) and name.strip() else "a scenario without a name"
    )
    place = ", ".join([which, *(str(part) for part in fault["loc"][:1])])
    if fault["type"] == "value_error":
        return f"{place}: {fault['msg'].removeprefix('Value error, ')}"
    if fault["type"] == "missing":
        return (
            f"{place}: is missing; {'give each scenario a name of its own' if 'name' in place else 'give it'}"
        )
    return f"{place} is {shown(fault['input'])}: {_mend(fault, options)}"


def _mend(fault: Any, options: Sequence[str]) -> str:
    limits: Mapping[str, Any] = fault.get("ctx", {})
    match fault["type"]:
        case "greater_than_equal":
            return f"it is too small; give {limits['ge']} or more"
        case "greater_than":
            return f"it is too small; give more than {limits['gt']}"
        case "less_than_equal":
            return f"it is too large; give at most {limits['le']}"
        case "less_than":
            return f"it is too large; give less than {limits['lt']}"
        case "int_parsing" | "int_type" | "int_from_float" | "int_parsing_size":
            return f"it is no whole number; {_WHOLE}"
        case "float_parsing" | "float_type" | "finite_number":
            return "it is no number; give one such as 10 or 0.5"
        case "decimal_parsing" | "decimal_type" | "is_instance_of" | "decimal_max_digits":
            return "it is no rate; give one such as 0.10"
        case "literal_error":
            return f"there is no such choice; give {limits['expected']}"
        case "bool_parsing" | "bool_type":
            return "give true or false"
        case "extra_forbidden":
            meant = get_close_matches(str(fault["loc"][0]), options, 1)
            known = f"leave it out, or give one of {', '.join(options)}"
            return f"there is no such option; {f'{meant[0]} was meant?' if meant else known}"
        case "string_too_short" | "string_pattern_mismatch" | "too_short":
            return "it is empty; fill it in"
        case "string_too_long" | "too_long":
            return f"it is too long; give at most {limits.get('max_length')}"
        case "tuple_type" | "list_type":
            return "it is no list; write [...]"
        case kind if kind.startswith("date"):
            return "it is no day; write it as 2027-03-01"
    return f"{fault['msg'][:1].lower()}{fault['msg'][1:]}; correct it"

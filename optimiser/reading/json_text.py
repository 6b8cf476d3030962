"""JSON text into its value, with line and column of a fault."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from optimiser.errors.problems import Problem, UnusableInput, shown
from optimiser.reading.file_bytes import read_bytes

LARGEST_BYTES = 256 * 1024 * 1024


class _TwiceError(ValueError):
    """An object of the JSON has the same key twice, so that one of the values would be lost."""


class NotJson(UnusableInput):
    """The text is no JSON at all."""


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise _TwiceError(key)
            seen.add(key)
    return found


def parse_json(data: bytes, what: str) -> Any:
    """The value of JSON text in UTF-8, -16 or -32. Raises UnusableInput where a key stands
    twice in one object, NotJson with line and column of a fault."""
    message, mend = "", "correct it there"
    try:
        return json.loads(data, object_pairs_hook=_object)
    except _TwiceError as error:
        message = f"the key {shown(str(error))} stands twice in one object"
        raise UnusableInput([Problem(what, message=message, mend="keep one of them")]) from None
    except json.JSONDecodeError as error:
        reason = f"{error.msg[:1].lower()}{error.msg[1:]}"
        message = f"is not JSON: {reason} at line {error.lineno}, column {error.colno}"
    except UnicodeDecodeError:
        message, mend = "is not text in UTF-8", "save it in UTF-8"
    except RecursionError:
        message, mend = "is nested too deeply", "give a project as the tables of the contract"
    except ValueError:
        message, mend = "has a number of thousands of digits", "correct the number"
    raise NotJson([Problem(what, message=message, mend=mend)])


def load_json(path: Path) -> Any:
    """The value in a JSON file. Raises UnusableInput when it cannot be read or is no JSON."""
    return parse_json(read_bytes(path, LARGEST_BYTES), path.name)

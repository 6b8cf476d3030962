"""Comparisons and simulations as jobs that are shared out: each function here runs in a limited process.

'share out' says into which parts, the parts are made by any workers side by side, 'join' puts them together.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optimiser.gap_options import Comparison, GapOption
    from optimiser.project import Project

Progress = Callable[[dict[str, Any]], None]
Parameters = dict[str, Any]
_LEAST_GAPS, _MOST_PARTS = 4, 32


def parts_of(kind: str, parameters: Parameters) -> list[Parameters]:
    """What each part is to be made with."""
    if kind == "allowance":
        return [parameters]
    gaps = range(parameters["from_mm"], parameters["to_mm"] + 1, parameters["step_mm"])
    size = max(_LEAST_GAPS, -(-len(gaps) // _MOST_PARTS))
    parts = [gaps[start : start + size] for start in range(0, len(gaps), size)]
    return [{**parameters, "from_mm": part[0], "to_mm": part[-1]} for part in parts]


def make_part(kind: str, project: Project, part: Parameters, progress: Progress) -> str:
    """One part as JSON text. Raises CannotBeDone when the options make no sense for the project."""

    def report(done: int, whole: int) -> None:
        progress({"fraction": done / whole})

    if kind == "allowance":
        from optimiser.allowance import simulate

        return json.dumps(simulate(project, **part, progress=report).as_json())
    from pydantic import TypeAdapter

    from optimiser.gap_options import Comparison

    text: bytes = TypeAdapter(Comparison).dump_json(_compared(project, part, report))
    return text.decode()


def joined(kind: str, parts: Sequence[str], parameters: Parameters) -> str:
    """The whole result as JSON text: what comparing or simulating in one go gives."""
    if kind == "allowance":
        return parts[0]
    from pydantic import TypeAdapter

    from optimiser.gap_options import Comparison

    adapter = TypeAdapter(Comparison)
    return json.dumps(_in_one([adapter.validate_json(part) for part in parts]).as_json())


def _compared(project: Project, part: Parameters, report: Callable[[int, int], None]) -> Comparison:
    from optimiser.comparison import compare

    def exact(choices: Sequence[Sequence[float]]) -> list[Any]:
        return [tuple(Decimal(str(rate)) for rate in rates) for rates in choices]

    rates = {name: exact(part[name]) for name in ("oversize", "insertion")}
    return compare(project, **{**part, **rates}, progress=report)


def _in_one(parts: Sequence[Comparison]) -> Comparison:
    """The options of all parts by choice and then by gap, with their steps and the best of all marked anew."""
    from dataclasses import replace

    from optimiser.gap_options import with_best, with_steps

    by_choice: dict[Any, list[GapOption]] = {}
    for part in parts:
        for choice, of_part in part.by_choice().items():
            fresh = (replace(one, best=(), boards_more_at_next_gap=None) for one in of_part)
            by_choice.setdefault(choice, []).extend(fresh)
    options = [option for of_choice in by_choice.values() for option in with_steps(of_choice)]
    return replace(parts[0], options=tuple(with_best(options, several=len(by_choice) > 1)))

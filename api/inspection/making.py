"""The report of an inspection as files: each function here runs in a limited process."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimiser.model.plan import Plan
    from optimiser.takeoff.inspection import LevelInspection, PhotographOf


def photographs_of_parts(about: Sequence[dict[str, object]], plan: Plan) -> list[PhotographOf]:
    """The photographs of joints and brackets among all that are kept, each as its JSON."""
    from optimiser.takeoff.inspection import PhotographOf

    known = {piece.id for piece in plan.pieces}
    return [
        PhotographOf(str(one["id"]), str(one["piece"]), one["what"], one.get("at_mm"))  # type: ignore[arg-type]
        for one in about
        if one["what"] in ("joint", "bracket") and one.get("piece") in known
    ]


def inspected(
    plan: str, record: str, photographs: str, levels: tuple[str, ...] | None
) -> tuple[Plan, tuple[LevelInspection, ...]]:
    """A plan and what was fitted and seen of these levels (None: all). Raises ValueError for an unknown level."""
    from optimiser.model.plan import Plan
    from optimiser.reading.record_file import record_from_json
    from optimiser.takeoff.inspection import inspection

    made = Plan.model_validate_json(plan)
    names = [level.level for level in made.project.levels_in_order()]
    unknown = sorted(set(levels or ()) - set(names))
    if unknown:
        raise ValueError(f"the plan has no level {unknown[0]}; it has {', '.join(names)}")
    told = record_from_json(json.loads(record))
    return made, inspection(made, told, photographs_of_parts(json.loads(photographs), made), levels)


def report(
    plan: str,
    record: str,
    photographs: str,
    pictures: dict[str, bytes],
    levels: tuple[str, ...] | None,
    form: str,
    paper: str,
    day: str,
) -> bytes:
    """The report as 'pdf' (with those of the pictures that are of its parts) or 'csv'. Raises ValueError for an unknown
    level."""
    from optimiser.writing.office.inspection_report import inspection_csv, inspection_pdf

    made, found = inspected(plan, record, photographs, levels)
    if form == "csv":
        return inspection_csv(found).encode()
    return inspection_pdf(made, found, day, paper, pictures)

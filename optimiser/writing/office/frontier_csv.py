"""The frontier of boards against waiting as csv and as plain JSON values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from optimiser.studies.frontier import FrontierPoint
from optimiser.tables.frontier import FRONTIER
from optimiser.tables.text import csv_of


def point_as_dict(point: FrontierPoint) -> dict[str, Any]:
    """A plan of the frontier as plain JSON values; money as decimal text."""
    return {
        **point.model_dump(mode="json", exclude={"waiting"}),
        "waiting_pieces": point.waiting.pieces,
        "waiting_piece_stages": point.waiting.piece_stages,
        "remainders": point.waiting.remainders,
    }


def point_of_dict(found: Mapping[str, Any]) -> FrontierPoint:
    """The plan that `point_as_dict` wrote. Raises ValueError (pydantic's ValidationError) for anything else."""
    waiting = {
        "pieces": found["waiting_pieces"],
        "piece_stages": found["waiting_piece_stages"],
        "remainders": found["remainders"],
    }
    own = {name: found[name] for name in FrontierPoint.model_fields if name != "waiting"}
    return FrontierPoint.model_validate({**own, "waiting": waiting})


def frontier_csv(points: Sequence[FrontierPoint]) -> str:
    """The frontier as csv, a plan a row."""
    return csv_of(FRONTIER, points)

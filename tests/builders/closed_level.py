"""One level as it is built: a loop of three runs, two details, a curve, mullions of a known size."""

from __future__ import annotations

from typing import Any

from optimiser.model.project import Anchor, Board, Bracket, Detail, Gap, Level, Project, Run, Tape

GIVEN = Detail(**{name: getattr(Detail(), name) for name in Detail.model_fields})
"""A detail that states every rule, at the values of common practice: no placeholder."""

THIN = GIVEN.model_copy(update={"tape_lap_mm": 30, "tape_faces": 2, "anchors_per_bracket": 2})


def run_of(name: str, length_mm: int, joins: str = "", board: str = "B-120", **more: Any) -> Run:
    return Run(run=name, level="L1", length_mm=length_mm, board=(board,), joins=joins, **more)


def closed_level(**changes: Any) -> Project:
    """One level: A, 3000 mm at a gap of 150; B, 1800 at 120, by the thin detail; C, a curve of 600 mm at 140. They
    close a loop. A has mullions of 60 x 45 at 300 and 1500."""
    tables: dict[str, Any] = {
        "detail": GIVEN,
        "details": {"thin": THIN},
        "products": (
            Board(code="B-120", length_mm=1200, width_mm=1000, thickness_mm=120, price="10.00"),
            Board(code="B-90", length_mm=1200, width_mm=1000, thickness_mm=90, price="8.00"),
            *(Bracket(code=f"K-{reach}", length_mm=reach, price="1.00") for reach in (90, 100, 110)),
            Anchor(code="A-8", price="1.00"),
            Tape(code="T-75", length_mm=45_000, price="1.00"),
        ),
        "levels": (Level(level="L1", sequence=1),),
        "runs": (
            run_of("A", 3000, "B", mullions_mm=(300, 1500), mullion_width_mm=60, mullion_depth_mm=45),
            run_of("B", 1800, "C", "B-90", detail="thin"),
            run_of("C", 600, "A", radius_mm=4000),
        ),
        "gaps": (
            Gap(run="A", at_mm=0, gap_mm=150),
            Gap(run="B", at_mm=0, gap_mm=120),
            Gap(run="C", at_mm=0, gap_mm=140),
        ),
    }
    return Project(**{**tables, **changes})

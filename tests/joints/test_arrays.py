"""Runs as arrays: each laid out by its own detail and boards, in the order of the runs."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from optimiser.joints.arrays import NO_LAYOUT, OUT_OF_RANGE, PIECE, TAPERED, LaidArrays, lay_out_arrays
from optimiser.joints.layout import laid_by_strips, run_arrays
from optimiser.model.project import Board, Detail, Gap, Level, Project, Run

LOOSE = Detail(oversize_max=Decimal("0.30"))
BOARDS = (Board(code="B", length_mm=1200, width_mm=1000), Board(code="C", length_mm=900, width_mm=600))


def runs_of(*kinds: tuple[str, str]) -> Project:
    """Runs of 3 m along the same sloping gap, each with its board and its detail's name."""
    names = [f"L01-{number}" for number in range(len(kinds))]
    return Project(
        detail=Detail(),
        details={"loose": LOOSE},
        products=BOARDS,
        levels=(Level(level="L01", sequence=1),),
        runs=tuple(
            Run(run=name, level="L01", length_mm=3000, board=(board,), detail=detail)
            for name, (board, detail) in zip(names, kinds, strict=True)
        ),
        gaps=tuple(
            Gap(run=name, at_mm=at, gap_mm=gap) for name in names for at, gap in ((0, 150), (3000, 180))
        ),
    )


def rows_by_run(project: Project) -> list[list[list[int]]]:
    """Each run's rows without its number, laid out by strips; the rows must stand in the order of the runs."""
    laid = laid_by_strips(project, run_arrays(project))
    assert laid.run.tolist() == sorted(laid.run.tolist())
    return [laid.rows[laid.run == number, 1:].tolist() for number in range(len(project.runs))]


def test_runs_of_several_details_and_boards_are_each_laid_out_as_if_alone() -> None:
    kinds = (("B", ""), ("C", "loose"), ("B", "loose"), ("C", ""), ("B", ""))
    together = rows_by_run(runs_of(*kinds))
    alone = [rows_by_run(runs_of(kind))[0] for kind in kinds]
    assert together == alone
    assert len({str(rows) for rows in alone}) == 4


def test_every_run_is_laid_out_by_its_own_detail() -> None:
    project = runs_of(("B", ""), ("B", "loose"), ("B", ""))
    runs = run_arrays(project)
    strict, loose = (lay_out_arrays(runs, detail).rows for detail in (Detail(), LOOSE))
    assert strict.tolist() != loose.tolist()
    laid = lay_out_arrays(runs, project.building.details).rows
    assert laid.tolist() == [
        *strict[strict[:, 0] == 0].tolist(),
        *loose[loose[:, 0] == 1].tolist(),
        *strict[strict[:, 0] == 2].tolist(),
    ]


def test_what_is_no_piece_is_left_out_where_only_pieces_are_asked_for() -> None:
    kinds = (PIECE, OUT_OF_RANGE, TAPERED, NO_LAYOUT, PIECE)
    rows = np.array([[0, kind, 1200 * n, 1200 * (n + 1), *[0] * 6] for n, kind in enumerate(kinds)])
    pieces = LaidArrays(rows).pieces_only()
    assert pieces.kind.tolist() == [PIECE, TAPERED, PIECE]
    assert pieces.from_mm.tolist() == [0, 2400, 4800]

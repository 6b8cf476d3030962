"""Runs into pieces: where the joints go.

Aims, in this order: the least length left open, the fewest short pieces, the fewest pieces (so the fewest
joints), the fewest tapered pieces, the most full board lengths (nothing to cross-cut); these five are least
over all whole-millimetre positions. Then the widest compression windows in sum, over candidate positions only.

Rules, from the run's detail: a piece is no longer than its board; no shorter than `piece_length_min_mm` where the run
allows; on a curve so short that its chord leaves it by at most `curve_offset_max_mm`; its compression window over its
span is not empty and begins within the board's width; joints keep `joint_to_mullion_min_mm` from every mullion, those
at a run's ends (corners) included. A piece that no single width serves may be tapered: its ends follow the gap, differ
by `taper_max_mm` at most (0: none is tapered), and the straight edge between them stays within the limits all along.
"""

from __future__ import annotations

from dataclasses import dataclass

from optimiser.joints.arrays import (
    NO_LAYOUT,
    OUT_OF_RANGE,
    TAPERED,
    LaidArrays,
    PieceValue,
    RunArrays,
    laid_in_parts,
    lay_out_arrays,
    starts,
)
from optimiser.joints.strip_price import strip_price
from optimiser.joints.unplanned import gap_out_of_range, no_layout
from optimiser.model.planned_pieces import NotPlanned
from optimiser.model.project import LONGEST_MM, Basis, Board, Gap, Project, Run
from optimiser.model.sizes import Size
from optimiser.survey.curves import longest_piece_mm
from optimiser.survey.gap_line import GapAlongRun, deciding_gaps

__all__ = [
    "LaidArrays",
    "LaidPiece",
    "LaidRuns",
    "PieceValue",
    "RunArrays",
    "laid_by_strips",
    "lay_out",
    "lay_out_arrays",
    "run_arrays",
]


@dataclass(frozen=True, slots=True)
class LaidPiece:
    """A piece in its place; lengths in mm, positions from the run's start.

    [`width_min_mm`, `width_max_mm`] is the compression window (a tapered piece: both are its wider end).
    `width_start_mm` and `width_end_mm` are the least cut widths: equal unless `tapered`. `boards` are the codes
    of the run whose size takes it. `mullions_mm` lie strictly inside the span: one notch each; a mullion at a
    run's very start or end is a corner, not a notch. `short`: shorter than the minimum, in the last resort.
    """

    run: str
    level: str
    index: int
    from_mm: int
    to_mm: int
    gap_min_mm: int
    gap_max_mm: int
    width_min_mm: int
    width_max_mm: int
    width_start_mm: int
    width_end_mm: int
    tapered: bool
    short: bool
    boards: tuple[str, ...]
    mullions_mm: tuple[int, ...]
    basis: Basis

    @property
    def id(self) -> str:
        """The run and the piece's number from the run's start: L01-N-003. Unique, since runs are."""
        return f"{self.run}-{self.index:03d}"

    @property
    def length_mm(self) -> int:
        """The piece's length along the slab edge."""
        return self.to_mm - self.from_mm


@dataclass(frozen=True)
class LaidRuns:
    """Every run tiled, end to end, by pieces and by stretches that could not be planned."""

    pieces: tuple[LaidPiece, ...]
    not_planned: tuple[NotPlanned, ...]


def lay_out(project: Project, piece_value: PieceValue | None = None) -> LaidRuns:
    """Divides every run of the project into pieces, in the order of the runs and of position.

    Among the layouts of the fewest pieces and, of these, the fewest tapered ones, that of the least `piece_value` is
    taken; without one, that which takes the least of the strips it is cut from (`strip_price`). Raises ValueError for
    oversize rates with more than nine decimals.
    """
    gaps = project.building.gaps
    products = project.building.boards
    details = project.building.details
    runs = run_arrays(project)
    laid = (
        laid_by_strips(project, runs) if piece_value is None else lay_out_arrays(runs, details, piece_value)
    )
    pieces: list[LaidPiece] = []
    not_planned: list[NotPlanned] = []
    rows_of: list[list[list[int]]] = [[] for _ in project.runs]
    for row in laid.rows.tolist():
        rows_of[row[0]].append(row)
    for run, detail, rows in zip(project.runs, details, rows_of, strict=True):
        boards = tuple(products[code] for code in dict.fromkeys(run.board))
        along = GapAlongRun.of(gaps[run.run])
        for row in rows:
            kind, from_mm, to_mm = row[1:4]
            if kind == OUT_OF_RANGE:
                not_planned.append(gap_out_of_range(run, detail, along, from_mm, to_mm))
            elif kind == NO_LAYOUT:
                not_planned.append(no_layout(run, detail, boards, along, from_mm, to_mm))
        pieces += _pieces_of(run, rows, boards, gaps[run.run], detail.piece_length_min_mm)
    return LaidRuns(tuple(pieces), tuple(not_planned))


def laid_by_strips(project: Project, runs: RunArrays, taper_step_mm: int = 1) -> LaidArrays:
    """Every run of the project, with the gaps that `runs` has, at the strip price of its own boards: the rows of
    `lay_out`. `taper_step_mm` as in `lay_out_arrays`, which says what is raised."""
    products, details = project.building.boards, project.building.details
    alike: dict[frozenset[Size], list[int]] = {}
    for number, run in enumerate(project.runs):
        alike.setdefault(frozenset(products[code].size for code in run.board), []).append(number)
    parts = []
    for sizes, numbers in alike.items():
        value = strip_price(frozenset(size.length_mm for size in sizes), max(size.width_mm for size in sizes))
        if len(alike) == 1:
            return lay_out_arrays(runs, details, value, taper_step_mm)
        of = [details[number] for number in numbers]
        parts.append((numbers, lay_out_arrays(runs.only(numbers), of, value, taper_step_mm).rows))
    return laid_in_parts(parts)


def _pieces_of(
    run: Run, rows: list[list[int]], boards: tuple[Board, ...], gaps: tuple[Gap, ...], length_min_mm: int
) -> list[LaidPiece]:
    mullions = sorted(set(run.mullions_mm))
    all_one_basis = {gap.basis for gap in gaps}
    sizes = [(board.code, board.length_mm, board.width_mm) for board in boards]
    pieces: list[LaidPiece] = []
    for _, kind, from_mm, to_mm, gap_min, gap_max, width_min, width_max, start, end in rows:
        if kind > TAPERED:
            continue
        nominal = "nominal" in all_one_basis and (
            len(all_one_basis) == 1
            or any(gap.basis == "nominal" for gap in deciding_gaps(gaps, from_mm, to_mm))
        )
        pieces.append(
            LaidPiece(
                run=run.run,
                level=run.level,
                index=len(pieces) + 1,
                from_mm=from_mm,
                to_mm=to_mm,
                gap_min_mm=gap_min,
                gap_max_mm=gap_max,
                width_min_mm=width_min,
                width_max_mm=width_max,
                width_start_mm=start,
                width_end_mm=end,
                tapered=kind == TAPERED,
                short=to_mm - from_mm < length_min_mm,
                boards=tuple(
                    code
                    for code, longest, widest in sizes
                    if to_mm - from_mm <= longest and width_min <= widest
                ),
                mullions_mm=tuple(mullion for mullion in mullions if from_mm < mullion < to_mm),
                basis="nominal" if nominal else "measured",
            )
        )
    return pieces


def run_arrays(project: Project) -> RunArrays:
    """The project's runs, in its order, as the kernel's arrays."""
    import numpy as np

    gaps = project.building.gaps
    products = project.building.boards
    knots = [gaps[run.run] for run in project.runs]
    mullions = [sorted(set(run.mullions_mm)) for run in project.runs]
    boards = [[products[code] for code in dict.fromkeys(run.board)] for run in project.runs]
    longest = [
        longest_piece_mm(run, detail) or LONGEST_MM
        for run, detail in zip(project.runs, project.building.details, strict=True)
    ]
    place = {run.run: number for number, run in enumerate(project.runs)}

    def column(values: list[int]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
        return np.array(values, dtype=np.int64)

    return RunArrays(
        length=column([run.length_mm for run in project.runs]),
        knot_start=starts([len(rows) for rows in knots]),
        knot_at=column([gap.at_mm for rows in knots for gap in rows]),
        knot_gap=column([gap.gap_mm for rows in knots for gap in rows]),
        mullion_start=starts([len(positions) for positions in mullions]),
        mullion_at=column([position for positions in mullions for position in positions]),
        board_start=starts([len(sizes) for sizes in boards]),
        board_length=column(
            [
                min(board.length_mm, most)
                for sizes, most in zip(boards, longest, strict=True)
                for board in sizes
            ]
        ),
        board_width=column([board.width_mm for sizes in boards for board in sizes]),
        joins=column([place.get(run.joins, -1) for run in project.runs]),
    )

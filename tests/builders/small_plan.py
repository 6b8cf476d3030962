"""A plan made by hand, small enough to be counted on paper: what the writers are tested with."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from optimiser.boards.cutting_sequence import cutting_sequence
from optimiser.boards.waste import waste_of
from optimiser.cutting.problem import CutPiece, Strip, Waiting
from optimiser.model.plan import LevelCounts, Plan
from optimiser.model.planned_boards import BoardCount, PlannedLeftOver, PlannedPattern, Proof
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.project import (
    Allowance,
    Anchor,
    Board,
    Bracket,
    Detail,
    Gap,
    Heading,
    Level,
    Project,
    Run,
    Tape,
)
from optimiser.ordering.measuring_days import level_statuses
from optimiser.ordering.order import deliveries_of, needed_by_level, order_for
from optimiser.ordering.working_days import working_days_of
from optimiser.planning.paid import what_waits, with_packs
from optimiser.planning.warnings import CAUTIONS, warnings_of


def small_project(name: str = "Example House (invented)", reference: str = "PO-17") -> Project:
    """Two levels with an edge of 2400 mm each, a gap of 150 mm everywhere; B-120 is the only board."""
    return Project(
        project=Heading(
            name=name, order_reference=reference, buyer="Buyer (invented)", supplier="Supplier (invented)"
        ),
        detail=Detail(oversize_min="0.10", oversize_max="0.15", kerf_mm=0),
        products=(
            Board(
                code="B-120",
                length_mm=1200,
                width_mm=1000,
                per_pack=4,
                price="212.00",
                lead_days=15,
            ),
            Bracket(code="K-110", length_mm=110, per_pack=25, price="60.50", pack_name="box"),
            Anchor(code="A-1", per_pack=100, price="31.20"),
            Tape(code="T-1", length_mm=25_000, price="9.90"),
        ),
        levels=(
            Level(level="L01", sequence=1, needed_on=date(2027, 2, 22)),
            Level(level="L02", sequence=2, needed_on=date(2027, 3, 1)),
        ),
        runs=(
            Run(run="L01-N", level="L01", length_mm=2400, board=("B-120",), mullions_mm=(700,)),
            Run(run="L02-N", level="L02", length_mm=2400, board=("B-120",)),
        ),
        gaps=(Gap(run="L01-N", at_mm=0, gap_mm=150), Gap(run="L02-N", at_mm=1200, gap_mm=150)),
        allowance=(Allowance(kind="board", fraction="0.02"),),
    )


def small_plan(project: Project | None = None, not_planned: tuple[NotPlanned, ...] = ()) -> Plan:
    """Four pieces 165 mm wide, all out of one board of L01; the last 340 mm of its width are left over."""
    project = project or small_project()
    pieces = tuple(
        PlannedPiece(
            id=f"{run.run}-{number:03d}",
            level=run.level,
            run=run.run,
            from_mm=1200 * (number - 1),
            to_mm=1200 * number,
            gap_min_mm=150,
            gap_max_mm=150,
            width_min_mm=165,
            width_max_mm=172,
            cut_width_start_mm=165,
            cut_width_end_mm=165,
            boards=("B-120",),
            bracket="K-110",
            brackets_at_mm=(300, 900),
            notches_at_mm=run.mullions_mm if number == 1 else (),
            mullions_at_mm=run.mullions_mm if number == 1 else (),
        )
        for run in project.runs
        for number in (1, 2)
    )
    strips = tuple(
        Strip(width_mm=165, pieces=(CutPiece(id=piece.id, length_mm=1200, width_mm=165),)) for piece in pieces
    )
    layouts = (PlannedPattern(stock="B-120", code="B-120", stage=1, strips=strips),)
    left_over = (PlannedLeftOver(length_mm=1200, width_mm=340, stage=1, code="B-120"),)
    count = LevelCounts(joints=1, brackets={"K-110": 4}, anchors=4, tape_mm=250)
    counts = {"L01": count, "L02": count}
    needed = needed_by_level(project, {"L01": {"B-120": 1}}, counts)
    calendar = working_days_of(project.project.country)
    order = order_for(project, needed, {"B-120": Fraction(2, 100)}, calendar)
    remainders = cutting_sequence(project, pieces, layouts, left_over).remainders
    return Plan(
        project=project,
        staging="whole",
        max_carry_stages=None,
        boards=with_packs(project, {"B-120": BoardCount(count=1, lower_bound=1, optimal=True)}),
        proofs=(
            Proof(
                codes=("B-120",),
                boards=1,
                lower_bound=1,
                cost_cents=5300,
                lower_bound_cents=5300,
                optimal=True,
                solve_seconds=0.01,
            ),
        ),
        waste=waste_of(project, sum(piece.twice_area_mm2 for piece in pieces), layouts, left_over),
        pieces=pieces,
        not_planned=not_planned,
        layouts=layouts,
        left_over=left_over,
        counts=counts,
        order=order,
        deliveries=deliveries_of(project, order),
        warnings=warnings_of(project, not_planned, counts, needed, order, calendar),
        cautions=CAUTIONS,
        levels=level_statuses(project, order, calendar),
        waiting=what_waits(project, pieces, layouts, Waiting(), remainders),
        remainders=remainders,
    )

"""A plan made by hand, small enough to be counted on paper: what the writers are tested with."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from optimiser.cutting.problem import CutPiece, Layout, LeftOver, Strip
from optimiser.ordering import deliveries_of, needed_by_level, order_for
from optimiser.plan import BoardCount, LevelCounts, NotPlanned, Plan, PlannedPiece, Proof
from optimiser.project import Allowance, Detail, Gap, Heading, Level, Product, Project, Run
from optimiser.warnings_and_cautions import CAUTIONS, warnings_of
from optimiser.waste import waste_of
from optimiser.working_days import working_days_of


def small_project(name: str = "Example House (invented)", reference: str = "PO-17") -> Project:
    """Two levels with an edge of 2400 mm each, a gap of 150 mm everywhere; B-120 is the only board."""
    return Project(
        project=Heading(
            name=name, order_reference=reference, buyer="Buyer (invented)", supplier="Supplier (invented)"
        ),
        detail=Detail(oversize_min="0.10", oversize_max="0.15", kerf_mm=0),
        products=(
            Product(
                code="B-120",
                kind="board",
                length_mm=1200,
                width_mm=1000,
                per_pack=4,
                price="212.00",
                lead_days=15,
            ),
            Product(code="K-110", kind="bracket", length_mm=110, per_pack=25, price="60.50", pack_name="box"),
            Product(code="A-1", kind="anchor", per_pack=100, price="31.20"),
            Product(code="T-1", kind="tape", length_mm=25_000, price="9.90"),
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
    layouts = (Layout(stock="B-120", code="B-120", stage=1, strips=strips),)
    left_over = (LeftOver(length_mm=1200, width_mm=340, stage=1, code="B-120"),)
    count = LevelCounts(joints=1, brackets={"K-110": 4}, anchors=4, tape_mm=250)
    counts = {"L01": count, "L02": count}
    needed = needed_by_level(project, {"L01": {"B-120": 1}}, counts)
    calendar = working_days_of(project.project.country)
    order = order_for(project, needed, {"B-120": Fraction(2, 100)}, calendar)
    return Plan(
        project=project,
        staging="whole",
        max_carry_stages=None,
        boards={"B-120": BoardCount(count=1, lower_bound=1, optimal=True)},
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
        waste=waste_of(project, pieces, layouts, left_over, {}),
        pieces=pieces,
        not_planned=not_planned,
        layouts=layouts,
        left_over=left_over,
        counts=counts,
        order=order,
        deliveries=deliveries_of(project, order),
        warnings=warnings_of(project, pieces, not_planned, counts, needed, order, calendar),
        cautions=CAUTIONS,
    )

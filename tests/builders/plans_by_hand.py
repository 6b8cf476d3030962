"""Plans put together by hand, so that what is printed and sent can be tested without the planner.

The buildings are invented.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from math import ceil
from typing import Any

from optimiser.cutting.problem import CutPiece, Strip
from optimiser.model.order import Delivery, Order, OrderLine
from optimiser.model.plan import ForecastCover, LevelCounts, LevelStatus, Plan
from optimiser.model.planned_boards import BoardCount, PlannedLeftOver, PlannedPattern, Proof, Waste
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.project import (
    Anchor,
    Board,
    Bracket,
    Detail,
    Gap,
    Heading,
    Level,
    Project,
    Run,
    Stock,
    Tape,
)

CAUTIONS = (
    "Open slab edge: fall protection for everyone at the edge, and an exclusion zone below.",
    "Mineral-wool dust: wear a respirator, gloves, long sleeves and eye protection.",
    "Blades: cut away from the body, on a firm support.",
    "The tested detail, local code and a licensed practitioner decide what may be built.",
)

PRODUCTS = (
    Board(
        code="B-120", length_mm=1200, width_mm=1000, thickness_mm=120, per_pack=4, price="212.00",
        lead_days=15, pack_name="pallet",
    ),
    Bracket(code="K-110", length_mm=110, per_pack=50, price="95.00", lead_days=5, pack_name="box"),
    Bracket(code="K-150", length_mm=150, per_pack=50, price="118.50", lead_days=5, pack_name="box"),
    Anchor(code="A-8", per_pack=100, price="64.00", lead_days=5, pack_name="box"),
    Tape(code="T-75", length_mm=45000, per_pack=1, price="38.90", lead_days=5, pack_name="roll"),
)  # fmt: skip


def order_line(level: str, code: str, needed: int, packs: int, **other: Any) -> OrderLine:
    """A line whose money and pack follow the products above."""
    product = next(product for product in PRODUCTS if product.code == code)
    allowance = other.pop("allowance", 0)
    return OrderLine(
        **{
            "code": code,
            "kind": product.kind,
            "level": level,
            "deliver_on": None,
            "order_by": None,
            "needed": needed,
            "allowance": allowance,
            "quantity": needed + allowance,
            "per_pack": product.per_pack,
            "packs": packs,
            "pack_name": product.pack_name,
            "price": product.price,
            "amount": product.price * packs,
            **other,
        }
    )


def piece(
    name: str, run: str, from_mm: int, to_mm: int, start: int, end: int | None = None, **other: Any
) -> PlannedPiece:
    """A piece with its brackets 300 mm in from its ends."""
    length = to_mm - from_mm
    width = max(start, end or start)
    return PlannedPiece(
        **{
            "id": name,
            "level": run.split("-")[0],
            "run": run,
            "from_mm": from_mm,
            "to_mm": to_mm,
            "gap_min_mm": min(start, end or start) * 10 // 11,
            "gap_max_mm": width * 10 // 11,
            "width_min_mm": width,
            "width_max_mm": width + 7 if end is None else width,
            "cut_width_start_mm": start,
            "cut_width_end_mm": start if end is None else end,
            "boards": ("B-120",),
            "bracket": "K-110",
            "brackets_at_mm": (300, length - 300) if length > 700 else (length // 2,),
            "notches_at_mm": (),
            "mullions_at_mm": (),
            **other,
        }
    )


def strip(width: int, *pieces: tuple[str, int, int] | tuple[str, int, int, bool]) -> Strip:
    """A strip of (id, length, width[, head to tail]) pieces."""
    return Strip(
        width_mm=width,
        pieces=tuple(
            CutPiece(id=item[0], length_mm=item[1], width_mm=item[2], head_to_tail=len(item) > 3)
            for item in pieces
        ),
    )


def small_plan(**heading: str) -> Plan:
    """Two levels with everything that a sheet must show.

    A board with cross-cuts, a trimmed piece, a head-to-tail pair, a single tapered piece, a notch, a left-over
    to keep, scrap, an offcut of the stock, two boards cut alike, a piece carried to the next level, a stretch
    that cannot be built, an order line covered by earlier packs.
    """
    project = Project(
        project=Heading(
            **{
                "name": "Harbour Lane 9 (invented)",
                "order_reference": "HL9-0042",
                "buyer": "Northwall Facades",
                "supplier": "Ostrava Wool & Board",
                "deliver_to": "Gate 3, Harbour Lane 9, Newport; crane hours 07:00-11:00",
                "currency": "AUD",
                **heading,
            }
        ),
        detail=Detail(),
        products=PRODUCTS,
        levels=(
            Level(level="L01", sequence=10, needed_on=date(2027, 2, 22)),
            Level(level="L02", sequence=20, needed_on=date(2027, 3, 15)),
        ),
        runs=(
            Run(run="L01-N", level="L01", length_mm=7500, board=("B-120",), mullions_mm=(1500, 3000)),
            Run(run="L01-E", level="L01", length_mm=2700, board=("B-120",)),
            Run(run="L02-N", level="L02", length_mm=4500, board=("B-120",)),
        ),
        gaps=(
            Gap(run="L01-N", at_mm=0, gap_mm=150),
            Gap(run="L01-N", at_mm=2400, gap_mm=152),
            Gap(run="L01-N", at_mm=4800, gap_mm=149),
            Gap(run="L01-N", at_mm=6000, gap_mm=150),
            Gap(run="L01-N", at_mm=7500, gap_mm=150),
            Gap(run="L01-E", at_mm=0, gap_mm=136),
            Gap(run="L01-E", at_mm=2400, gap_mm=164),
            Gap(run="L01-E", at_mm=2700, gap_mm=410),
            Gap(run="L02-N", at_mm=0, gap_mm=150, basis="nominal", tolerance_mm=15),
            Gap(run="L02-N", at_mm=4500, gap_mm=150, basis="nominal", tolerance_mm=15),
        ),
        stock=(Stock(code="B-120", length_mm=1200, width_mm=380, quantity=1, level="L01"),),
    )
    pieces = (
        piece("L01-N-001", "L01-N", 0, 1200, 167),
        piece("L01-N-002", "L01-N", 1200, 2400, 168, notches_at_mm=(300,), mullions_at_mm=(1500,)),
        piece("L01-N-003", "L01-N", 2400, 3600, 168, notches_at_mm=(600,), mullions_at_mm=(3000,)),
        piece("L01-N-004", "L01-N", 3600, 4800, 167),
        piece("L01-N-005", "L01-N", 4800, 6000, 166),
        piece("L01-N-006", "L01-N", 6000, 6750, 166),
        piece("L01-N-007", "L01-N", 6750, 7500, 165),
        piece("L01-E-001", "L01-E", 0, 1200, 150, 166),
        piece("L01-E-002", "L01-E", 1200, 2400, 166, 181, bracket="K-150"),
        piece("L02-N-001", "L02-N", 0, 1200, 166, basis="nominal"),
        piece("L02-N-002", "L02-N", 1200, 2400, 166, basis="nominal"),
        piece("L02-N-003", "L02-N", 2400, 3600, 166, basis="nominal"),
        piece("L02-N-004", "L02-N", 3600, 4150, 166, basis="nominal"),
        piece("L02-N-005", "L02-N", 4150, 4500, 166, basis="nominal"),
    )
    layouts = (
        PlannedPattern(
            stock="B-120",
            code="B-120",
            stage=10,
            strips=(
                strip(
                    168,
                    ("L01-N-001", 1200, 167),
                ),
                strip(168, ("L01-N-002", 1200, 168)),
                strip(166, ("L01-N-006", 750, 166), ("L02-N-005", 350, 166)),
                strip(332, ("L01-E-001", 1200, 166), ("L01-E-002", 1200, 181, True)),
            ),
            cut_ready=False,
        ),
        PlannedPattern(
            stock="B-120",
            code="B-120",
            stage=10,
            strips=(
                strip(168, ("L01-N-003", 1200, 168)),
                strip(167, ("L01-N-004", 1200, 167)),
                strip(166, ("L01-N-005", 1200, 166)),
            ),
        ),
        PlannedPattern(
            stock="stock-1", code="B-120", stage=10, strips=(strip(165, ("L01-N-007", 750, 165)),)
        ),
        PlannedPattern(
            stock="B-120",
            code="B-120",
            stage=20,
            strips=(strip(166, ("L02-N-001", 1200, 166)), strip(166, ("L02-N-004", 550, 166))),
            cut_ready=False,
        ),
        PlannedPattern(
            stock="B-120",
            code="B-120",
            stage=20,
            strips=(strip(166, ("L02-N-002", 1200, 166)),),
            cut_ready=False,
        ),
        PlannedPattern(
            stock="B-120",
            code="B-120",
            stage=20,
            strips=(strip(166, ("L02-N-003", 1200, 166)),),
            cut_ready=False,
        ),
    )
    dates = {
        "L01": {"deliver_on": date(2027, 2, 22), "order_by": date(2027, 2, 1)},
        "L02": {"deliver_on": date(2027, 3, 15), "order_by": date(2027, 2, 22)},
    }
    waits = {"status": "forecast", "measure_by": date(2027, 2, 22)}
    lines = (
        order_line("L01", "B-120", 2, 1, allowance=1, **dates["L01"]),
        order_line("L01", "K-110", 14, 1, **dates["L01"]),
        order_line("L01", "K-150", 2, 1, **dates["L01"]),
        order_line("L01", "A-8", 16, 1, **dates["L01"]),
        order_line("L01", "T-75", 1, 1, **dates["L01"]),
        order_line("L02", "B-120", 3, 1, allowance=1, **dates["L02"], **waits),
        order_line("L02", "K-110", 8, 0, **dates["L02"], **waits),
        order_line("L02", "A-8", 8, 0, **dates["L02"], **waits),
    )
    return Plan(
        project=project,
        staging="carry",
        max_carry_stages=1,
        boards={"B-120": BoardCount(count=5, lower_bound=4, optimal=False)},
        proofs=(
            Proof(
                codes=("B-120",), boards=5, lower_bound=4, cost_cents=26500, lower_bound_cents=21200, optimal=False,
                solve_seconds=0.01,
            ),
        ),
        waste=Waste(
            bought_mm2=6_000_000, stock_mm2=456_000, fitted_mm2=2_500_000, reusable_offcut_mm2=2_900_000,
            scrap_mm2=1_056_000, scrap_fraction=0.1636,
        ),
        pieces=pieces,
        not_planned=(
            NotPlanned(
                run="L01-E", level="L01", from_mm=2400, to_mm=2700, what="piece",
                reason="the gap reaches 410 mm, above the detail's 400 mm",
                mend="measure again, or ask for a tested detail for this gap",
            ),
        ),
        layouts=layouts,
        left_over=(
            PlannedLeftOver(length_mm=1200, width_mm=499, stage=10, code="B-120"),
            PlannedLeftOver(length_mm=450, width_mm=165, stage=10, code="B-120"),
            PlannedLeftOver(length_mm=1200, width_mm=215, stage=10, code="B-120"),
            PlannedLeftOver(length_mm=1200, width_mm=668, stage=20, code="B-120"),
            PlannedLeftOver(length_mm=650, width_mm=166, stage=20, code="B-120"),
            PlannedLeftOver(length_mm=1200, width_mm=834, stage=20, quantity=2, code="B-120"),
        ),
        counts={
            "L01": LevelCounts(joints=7, brackets={"K-110": 14, "K-150": 2}, anchors=16, tape_mm=1743),
            "L02": LevelCounts(joints=4, brackets={"K-110": 8}, anchors=8, tape_mm=1000),
        },
        order=Order(lines=lines, total="740.40", currency=project.project.currency),
        deliveries=(
            Delivery(
                level="L01", sequence=10, packs={"B-120": 1, "K-110": 1, "K-150": 1, "A-8": 1, "T-75": 1},
                amount="528.40", **dates["L01"],
            ),
            Delivery(level="L02", sequence=20, packs={"B-120": 1}, amount="212.00", **dates["L02"]),
        ),
        warnings=("1 place has no board in this plan and in its order, on run L01-E.",),
        cautions=CAUTIONS,
        levels=(
            LevelStatus(level="L01", sequence=10, status="firm", deliver_on=date(2027, 2, 22), measure_by=None),
            LevelStatus(
                level="L02", sequence=20, status="forecast", deliver_on=date(2027, 3, 15), measure_by=date(2027, 2, 22)
            ),
        ),
        forecast=ForecastCover(
            service_level="0.95", draws=300, seed=0, covered=290, covered_alone=147, cost="740.40",
            least_cost="740.40", proved=True,
        ),
    )  # fmt: skip


def measured(plan: Plan) -> Plan:
    """The plan as if every gap of it were measured."""
    project = plan.project.model_copy(
        update={
            "gaps": tuple(
                gap.model_copy(update={"basis": "measured", "tolerance_mm": None})
                for gap in plan.project.gaps
            )
        }
    )
    pieces = tuple(piece.model_copy(update={"basis": "measured"}) for piece in plan.pieces)
    return plan.model_copy(update={"project": project, "pieces": pieces})


def tower(levels: int = 14, runs: int = 8, length_mm: int = 19_000) -> Plan:
    """A building of many levels, its boards filled strip by strip: for speed and for the look of many pages."""
    first = date(2027, 2, 22)
    table = [
        (
            f"L{level:02d}",
            Run(
                run=f"L{level:02d}-{side:02d}",
                level=f"L{level:02d}",
                length_mm=length_mm,
                board=("B-120",),
                mullions_mm=tuple(range(1500, length_mm, 1500)),
            ),
        )
        for level in range(1, levels + 1)
        for side in range(1, runs + 1)
    ]
    pieces: list[PlannedPiece] = []
    gaps: list[Gap] = []
    for number, (_, run) in enumerate(table):
        readings = [(at, 138 + (number * 7 + at // 1200 * 11) % 29) for at in range(0, length_mm, 2400)]
        gaps += [Gap(run=run.run, at_mm=at, gap_mm=gap) for at, gap in readings]
        start = place = 0
        while start < length_mm:
            end = min(start + 1200, length_mm)
            if 0 < length_mm - end < 300:
                end = length_mm - 300
            place += 1
            width = ceil(max(gap for at, gap in readings if start - 2400 < at < end + 2400) * 11 / 10)
            inside = tuple(at for at in run.mullions_mm if start < at < end)
            pieces.append(
                piece(
                    f"{run.run}-{place:03d}", run.run, start, end, width,
                    notches_at_mm=tuple(at - start for at in inside), mullions_at_mm=inside,
                )
            )  # fmt: skip
            start = end
    layouts = [layout for level in range(1, levels + 1) for layout in _filled(pieces, f"L{level:02d}", level)]
    boards = {level: sum(layout.stage == level for layout in layouts) for level in range(1, levels + 1)}
    lines: list[OrderLine] = []
    for level in range(1, levels + 1):
        name, day = f"L{level:02d}", first + timedelta(days=14 * (level - 1))
        dates = {"deliver_on": day, "order_by": day - timedelta(days=21)}
        lines.append(order_line(name, "B-120", boards[level], -(-boards[level] // 4), **dates))
        lines.append(order_line(name, "K-110", 2 * 140, 6, **dates))
        lines.append(order_line(name, "A-8", 2 * 140, 3, **dates))
        lines.append(order_line(name, "T-75", 1, 1, **dates))
    total = sum(line.amount for line in lines)
    return small_plan().model_copy(
        update={
            "project": Project(
                project=Heading(name="Kestrel Tower (invented)", order_reference="KT-07", buyer="Northwall Facades",
                                supplier="Ostrava Wool & Board", deliver_to="Loading bay 2, 40 Kestrel Street"),
                detail=Detail(), products=PRODUCTS,
                levels=tuple(
                    Level(level=f"L{level:02d}", sequence=level, needed_on=first + timedelta(days=14 * (level - 1)))
                    for level in range(1, levels + 1)
                ),
                runs=tuple(run for _, run in table), gaps=tuple(gaps),
            ),
            "boards": {"B-120": BoardCount(count=len(layouts), lower_bound=len(layouts) - 2, optimal=False)},
            "proofs": (),
            "pieces": tuple(pieces), "layouts": tuple(layouts), "left_over": (), "not_planned": (), "warnings": (),
            "counts": {
                f"L{level:02d}": LevelCounts(joints=120, brackets={"K-110": 280}, anchors=280, tape_mm=30_000)
                for level in range(1, levels + 1)
            },
            "levels": (), "forecast": None,
            "order": Order(lines=tuple(lines), total=total, currency="AUD"),
            "deliveries": (),
        }
    )  # fmt: skip


def _filled(pieces: Iterable[PlannedPiece], level: str, stage: int) -> list[PlannedPattern]:
    """Boards of strips, each strip one width, next fit."""
    strips: list[Strip] = []
    by_width: dict[int, list[PlannedPiece]] = {}
    for item in pieces:
        if item.level == level:
            by_width.setdefault(item.cut_width_start_mm, []).append(item)
    for width, here in sorted(by_width.items()):
        waiting: list[PlannedPiece] = []
        for item in sorted(here, key=lambda item: -item.length_mm):
            if waiting and sum(other.length_mm for other in waiting) + item.length_mm > 1200:
                strips.append(strip(width, *((one.id, one.length_mm, width) for one in waiting)))
                waiting = []
            waiting.append(item)
        strips.append(strip(width, *((one.id, one.length_mm, width) for one in waiting)))
    layouts: list[PlannedPattern] = []
    open_strips: list[Strip] = []
    for item in strips:
        if sum(other.width_mm for other in open_strips) + item.width_mm > 1000:
            layouts.append(
                PlannedPattern(stock="B-120", code="B-120", stage=stage, strips=tuple(open_strips))
            )
            open_strips = []
        open_strips.append(item)
    layouts.append(PlannedPattern(stock="B-120", code="B-120", stage=stage, strips=tuple(open_strips)))
    return layouts

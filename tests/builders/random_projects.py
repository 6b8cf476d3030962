"""Hypothesis strategies for random valid projects, small enough to be planned in milliseconds.

They go where a planner stumbles: runs shorter than the shortest piece, gaps outside the detail's tested
range, steep tapers, mullions in the way, several boards for a run, kerf, trimming both ways, stock on site,
nominal gaps with tolerances, allowances, levels without dates or delivered together, two details, runs that join in
loops and open edges, curves.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

from hypothesis import strategies as st

from optimiser.model.project import (
    KINDS,
    Allowance,
    Anchor,
    Board,
    Bracket,
    Detail,
    Gap,
    Heading,
    Level,
    Product,
    Project,
    Run,
    Stock,
    Tape,
)

BOARD_LENGTHS = (1200, 1200, 1200, 1000, 900)
BOARD_WIDTHS = (1000, 1000, 600, 1250)
NEEDED_ON = st.dates(date(2027, 1, 4), date(2028, 6, 30))


@st.composite
def details(draw: st.DrawFn) -> Detail:
    """Rules of a detail: any of them may be left out, so that it stands at its placeholder."""
    oversize_min = draw(st.integers(0, 12))
    given: dict[str, Any] = {
        "oversize_min": Decimal(oversize_min) / 100,
        "oversize_max": Decimal(oversize_min + draw(st.integers(0, 12))) / 100,
        "gap_min_mm": draw(st.sampled_from((20, 25, 50))),
        "gap_max_mm": draw(st.sampled_from((300, 350, 400))),
        "piece_length_min_mm": draw(st.sampled_from((200, 300, 450))),
        "taper_max_mm": draw(st.sampled_from((0, 10, 30, 200))),
        "curve_offset_max_mm": draw(st.sampled_from((2, 5, 20))),
        "joint_to_mullion_min_mm": draw(st.sampled_from((0, 50, 100, 150))),
        "trim": draw(st.booleans()),
        "kerf_mm": draw(st.integers(0, 4)),
        "bracket_insertion": Decimal("0.75"),
        "bracket_insertion_min": draw(st.sampled_from((Decimal("0.60"), Decimal("0.70"), Decimal("0.75")))),
        "bracket_insertion_max": draw(st.sampled_from((Decimal("0.75"), Decimal("0.85"), Decimal("0.95")))),
        "bracket_end_distance_mm": draw(st.sampled_from((150, 300))),
        "bracket_spacing_max_mm": draw(st.sampled_from((400, 600))),
        "bracket_to_mullion_min_mm": draw(st.sampled_from((0, 75))),
        "anchors_per_bracket": draw(st.integers(0, 2)),
        "tape_faces": draw(st.integers(0, 2)),
        "tape_lap_mm": draw(st.sampled_from((0, 50))),
    }
    # Pairs that are compared with each other are left out together: placeholders keep their order.
    for names in (
        ("oversize_min", "oversize_max"),
        ("gap_min_mm", "gap_max_mm"),
        ("bracket_insertion", "bracket_insertion_min", "bracket_insertion_max"),
        ("kerf_mm",),
        ("taper_max_mm", "curve_offset_max_mm"),
        ("trim", "tape_faces", "anchors_per_bracket"),
    ):
        if draw(st.integers(0, 4)) == 0:
            for name in names:
                del given[name]
    return Detail(**given)


@st.composite
def products(draw: st.DrawFn) -> tuple[Product, ...]:
    """One to three sizes of a board, brackets every 10 or 30 mm, mostly an anchor and a tape."""
    thickness_mm, material = draw(st.sampled_from((75, 100, 120))), draw(st.sampled_from(("", "stone wool")))
    found = [
        Board(
            code=f"B-{number}",
            length_mm=draw(st.sampled_from(BOARD_LENGTHS)),
            width_mm=draw(st.sampled_from(BOARD_WIDTHS)),
            thickness_mm=thickness_mm,
            material=material,
            per_pack=draw(st.integers(1, 6)),
            price=draw(st.integers(0, 300)),
            lead_days=draw(st.integers(0, 20)),
        )
        for number in range(1, draw(st.integers(1, 3)) + 1)
    ]
    per_pack = draw(st.sampled_from((1, 25, 100)))
    found += [
        Bracket(code=f"K-{reach}", length_mm=reach, per_pack=per_pack, price=48)
        for reach in range(30, 311, draw(st.sampled_from((10, 10, 30))))
    ]
    if draw(st.integers(0, 4)):
        found.append(Anchor(code="A-8", per_pack=100, price=61, lead_days=3))
    if draw(st.integers(0, 4)):
        found.append(Tape(code="T-75", length_mm=45_000, per_pack=1, price=23))
    return tuple(found)


@st.composite
def levels(draw: st.DrawFn) -> tuple[Level, ...]:
    """One to three levels; some are delivered together, some have no date."""
    dated = draw(st.booleans())
    return tuple(
        Level(
            level=f"L{number:02d}",
            sequence=draw(st.integers(1, 3)),
            needed_on=draw(st.none() | NEEDED_ON) if dated else None,
        )
        for number in range(1, draw(st.integers(1, 3)) + 1)
    )


@st.composite
def gaps_along(draw: st.DrawFn, run: str, length_mm: int) -> list[Gap]:
    """A run's gaps: wandering by a few millimetres, sometimes steeply, sometimes out of the tested range."""
    positions = draw(
        st.lists(
            st.integers(0, length_mm), min_size=1, max_size=max(1, min(7, length_mm // 400)), unique=True
        )
    )
    gap = draw(st.integers(20, 420) | st.integers(60, 240))
    largest_step = draw(st.sampled_from((0, 3, 8, 60)))
    found = []
    for position in sorted(positions):
        gap = min(420, max(20, gap + draw(st.integers(-largest_step, largest_step))))
        nominal = draw(st.integers(0, 5)) == 0
        found.append(
            Gap(
                run=run,
                at_mm=position,
                gap_mm=gap,
                basis="nominal" if nominal else "measured",
                tolerance_mm=draw(st.none() | st.integers(0, 25)) if nominal else None,
            )
        )
    return found


@st.composite
def second_detail(draw: st.DrawFn, first: Detail) -> Detail:
    """Another detail for the same boards: they are cut with one saw, and trimmed or not, whatever run they serve."""
    drawn = draw(details())
    given = {name: getattr(drawn, name) for name in drawn.model_fields_set - {"kerf_mm", "trim"}}
    given |= {name: getattr(first, name) for name in first.model_fields_set & {"kerf_mm", "trim"}}
    return Detail(**given)


@st.composite
def joined(draw: st.DrawFn, runs: list[Run]) -> list[Run]:
    """The runs, those of a level mostly end to end, at times in a loop."""
    joins: dict[str, str] = {}
    for level in {run.level: None for run in runs}:
        here = [run for run in runs if run.level == level]
        for run, following in pairwise(here):
            if draw(st.booleans()):
                joins[run.run] = following.run
        whole = len(joins.keys() & {run.run for run in here}) == len(here) - 1
        encloses = len(here) >= 3 or any(run.radius_mm is not None for run in here)
        if whole and encloses and draw(st.booleans()):
            joins[here[-1].run] = here[0].run
    return [run.model_copy(update={"joins": joins.get(run.run, "")}) for run in runs]


@st.composite
def projects(draw: st.DrawFn, max_runs: int = 6, longest_run_mm: int = 9000) -> Project:
    """A valid project of one to three levels and one to `max_runs` runs of 200 mm to `longest_run_mm`."""
    catalogue = draw(products())
    boards = [product for product in catalogue if product.kind == "board"]
    codes = [product.code for product in boards]
    storeys = draw(levels())
    detail = draw(details())
    named = {"D2": draw(second_detail(detail))} if draw(st.integers(0, 3)) == 0 else {}
    runs: list[Run] = []
    gaps: list[Gap] = []
    for number in range(1, draw(st.integers(1, max_runs)) + 1):
        length_mm = draw(st.integers(200, 1400) | st.integers(200, longest_run_mm))
        name = f"R{number:02d}"
        mullions = draw(st.lists(st.integers(0, length_mm), max_size=min(6, length_mm // 500), unique=True))
        of = draw(st.sampled_from(("", *named)))
        rules = named.get(of, detail)
        widest = 2 * min(rules.joint_to_mullion_min_mm, rules.bracket_to_mullion_min_mm)
        runs.append(
            Run(
                run=name,
                level=draw(st.sampled_from(storeys)).level,
                length_mm=length_mm,
                board=tuple(draw(st.lists(st.sampled_from(codes), min_size=1, max_size=2, unique=True))),
                mullions_mm=tuple(sorted(mullions)),
                detail=of,
                mullion_width_mm=draw(st.none() | st.integers(1, widest)) if widest else None,
                mullion_depth_mm=draw(st.none() | st.integers(1, 19)),
                radius_mm=draw(st.sampled_from((None, None, None, 2000, 12_000))),
            )
        )
        gaps += draw(gaps_along(name, length_mm))
    stock = [
        Stock(
            code=board.code,
            length_mm=draw(st.integers(250, board.length_mm)),
            width_mm=draw(st.integers(50, board.width_mm)),
            quantity=draw(st.integers(1, 3)),
            level=draw(st.sampled_from(("", *(level.level for level in storeys)))),
        )
        for board in draw(st.lists(st.sampled_from(boards), max_size=2))
    ]
    allowance = [
        Allowance(kind=kind, fraction=Decimal(draw(st.integers(0, 10))) / 100)
        for kind in draw(st.lists(st.sampled_from(KINDS), max_size=3, unique=True))
    ]
    return Project(
        project=Heading(
            name="Invented building",
            currency=draw(st.sampled_from(("AUD", "EUR"))),
            country=draw(st.sampled_from(("AU", "DE"))),
            max_carry_stages=draw(st.none() | st.integers(0, 2)),
            service_level=draw(
                st.sampled_from((Decimal("0.95"), Decimal("0.95"), Decimal("0.5"), Decimal(1)))
            ),
        ),
        detail=detail,
        details=named,
        products=catalogue,
        levels=storeys,
        runs=tuple(draw(joined(runs))),
        gaps=tuple(gaps),
        stock=tuple(stock),
        allowance=tuple(allowance),
    )

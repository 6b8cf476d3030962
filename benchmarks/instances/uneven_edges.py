"""Invented jobs whose gaps wander more than one cut width can follow over a board's length: frozen by their seeds.

Four runs a level, 20 to 40 m long, mullions every 1.2, 1.35 or 1.5 m, a reading every 1.5 m and at the end; boards,
brackets every 5 mm of reach, anchors and tape with prices.
"""

from __future__ import annotations

import random
from decimal import Decimal

from optimiser.model.money import cents_of, from_cents
from optimiser.model.project import (
    Allowance,
    Anchor,
    Board,
    Bracket,
    Detail,
    Gap,
    Level,
    Project,
    Run,
    Tape,
)

READING_EVERY_MM = 1500
NOMINAL_GAPS_MM = (150, 120, 180, 150)
PITCHES_MM = (1200, 1350, 1500)


def wandering_job(seed: int = 9, levels: int = 9) -> Project:
    """Readings that differ by a slow walk drawn back to its mean (0.9, steps N(0, 3 mm)) and by N(0, 5 mm) each."""
    return _job(seed, levels, walk_mm=3, noise_mm=5)


def uneven_survey(seed: int, levels: int = 6) -> Project:
    """Readings that differ from the nominal gap independently by N(0, 8 mm)."""
    return _job(seed, levels, walk_mm=0, noise_mm=8)


def _job(seed: int, levels: int, walk_mm: float, noise_mm: float) -> Project:
    draws = random.Random(f"uneven edges {seed}")
    runs, gaps = [], []
    for number in range(1, levels + 1):
        level = f"L{number:02d}"
        for side, nominal in zip("NESW", NOMINAL_GAPS_MM, strict=True):
            length, pitch = draws.randrange(20_000, 40_000, 10), draws.choice(PITCHES_MM)
            mullions = tuple(range(pitch // 2, length - 150, pitch))
            runs.append(
                Run(
                    run=f"{level}-{side}",
                    level=level,
                    length_mm=length,
                    board=("B-120",),
                    mullions_mm=mullions,
                )
            )
            error = draws.gauss(0, walk_mm)
            for at in [*range(0, length - READING_EVERY_MM // 3, READING_EVERY_MM), length]:
                error = 0.9 * error + draws.gauss(0, walk_mm)
                gap = max(30, round(nominal + error + draws.gauss(0, noise_mm)))
                gaps.append(Gap(run=f"{level}-{side}", at_mm=at, gap_mm=gap))
    return Project(
        detail=Detail(),
        products=_products(),
        levels=tuple(Level(level=f"L{number:02d}", sequence=number) for number in range(1, levels + 1)),
        runs=tuple(runs),
        gaps=tuple(gaps),
    )


def in_packs(project: Project, *, as_placed: bool = True) -> Project:
    """The same job ordered in whole packs: boards by 4, brackets by 50, anchors by 100, tape by the roll; `as_placed`:
    with the allowance for breakage and loss too. There are no price breaks: the levels have no days.
    """
    packed: list[Board | Bracket | Anchor | Tape] = []
    for product in project.products:
        per_pack = {"board": 4, "bracket": 50, "anchor": 100, "tape": 1}[product.kind]
        price = from_cents(cents_of(product.price) * per_pack)
        if product.kind == "anchor":
            price = Decimal("41.50")
        packed.append(product.model_copy(update={"per_pack": per_pack, "price": price}))
    changes: dict[str, object] = {"products": tuple(packed)}
    if as_placed:
        changes["allowance"] = (
            Allowance(kind="board", fraction=Decimal("0.03")),
            Allowance(kind="bracket", fraction=Decimal("0.02")),
            Allowance(kind="anchor", fraction=Decimal("0.05")),
            Allowance(kind="tape", fraction=Decimal("0.05")),
        )
    return project.model_copy(update=changes)


def _products() -> tuple[Board | Bracket | Anchor | Tape, ...]:
    """Invented prices of single pieces and rolls; `in_packs` rounds to packs."""
    brackets = [
        Bracket(code=f"K-{reach}", length_mm=reach, price=from_cents(104 + 2 * reach // 5))
        for reach in range(30, 291, 5)
    ]
    return (
        Board(code="B-120", length_mm=1200, width_mm=1000, thickness_mm=120, price="53.00"),
        *brackets,
        Anchor(code="A-8", price="0.42"),
        Tape(code="T-75", length_mm=45_000, price="23.10"),
    )

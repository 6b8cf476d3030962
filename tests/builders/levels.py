"""Buildings of equal levels, and a level a week: what plans, orders and deliveries are tested with."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from optimiser.model.plan import Staging
from optimiser.model.project import (
    Anchor,
    Board,
    Bracket,
    DeliveryLimits,
    Gap,
    Heading,
    Level,
    Project,
    Run,
    Tape,
)

STAGINGS: tuple[Staging, ...] = ("whole", "carry", "level")


def building(storeys: int = 3, gap_mm: int = 150, length_mm: int = 2400, **changes: object) -> Project:
    """`storeys` levels, delivered in order, each with one edge and the same gap; brackets every 10 mm."""
    tables: dict[str, object] = {
        "project": Heading(name="invented"),
        "products": (
            Board(code="B-120", length_mm=1200, width_mm=1000, price="53.00"),
            *(Bracket(code=f"K-{reach}", length_mm=reach) for reach in range(30, 301, 10)),
            Anchor(code="A-1", per_pack=100, price="31.20"),
            Tape(code="T-1", length_mm=25_000, price="9.90"),
        ),
        "levels": tuple(
            Level(level=f"L{n}", sequence=10 * n, needed_on=date(2027, 2, 22)) for n in range(1, storeys + 1)
        ),
        "runs": tuple(
            Run(run=f"L{n}-N", level=f"L{n}", length_mm=length_mm, board=("B-120",))
            for n in range(1, storeys + 1)
        ),
        "gaps": tuple(Gap(run=f"L{n}-N", at_mm=0, gap_mm=gap_mm) for n in range(1, storeys + 1)),
    }
    return Project(**{**tables, **changes})  # type: ignore[arg-type]


FIRST = date(2027, 3, 1)  # a Monday; no holiday of AU within the following weeks of these tests


def weekly(storeys: int = 4, **limits: Any) -> Project:
    """A level a week, each needing four boards in packs of two at 100.00; brackets and the rest are cheap."""
    breaks = limits.pop("price_breaks", ())
    base = building(storeys=storeys, length_mm=28_800)
    products = tuple(
        product.model_copy(update={"per_pack": 2, "price": Decimal("100.00")})
        if product.kind == "board"
        else product
        for product in base.products
        if product.kind in ("board", "bracket")
    )
    return base.model_copy(
        update={
            "products": products,
            "levels": tuple(
                Level(level=f"L{n}", sequence=10 * n, needed_on=FIRST + timedelta(weeks=n - 1))
                for n in range(1, storeys + 1)
            ),
            "deliveries": (DeliveryLimits(**limits),) if limits else (),
            "price_breaks": breaks,
        }
    )


def week(number: int) -> date:
    return FIRST + timedelta(weeks=number - 1)

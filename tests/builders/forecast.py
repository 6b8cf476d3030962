"""A building whose upper levels are still nominal, with prices on loads and storage, weights and limits."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from typing import Any

from optimiser.model.plan import Plan
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
from optimiser.planning.plan import plan

FIRST = date(2027, 3, 1)
MEASURED, FORECAST = ("L01", "L02"), ("L03", "L04")
LIMITS: dict[str, Any] = {
    "truck_pallets": 6,
    "truck_payload_kg": 2000,
    "delivery_cost": "40.00",
    "storage_cost": "25.00",
    "site_storage_m2": 200,
    "stack_height_mm": 1200,
    "floor_load_kg_m2": 250,
}


def forecast_project(**limits: Any) -> Project:
    """Four levels a week apart, each with a run of equal gaps and one that widens; L01 and L02 are measured. Of L03
    one gap alone is nominal, at the far end of its second run: its first run is measured, yet the level is a
    forecast. `limits` change those of the deliveries."""
    names = (*MEASURED, *FORECAST)
    runs = tuple(
        Run(run=f"{name}-{side}", level=name, length_mm=length, board=("B-120",), mullions_mm=(700,))
        for name in names
        for side, length in (("N", 14_400), ("E", 9_000))
    )
    gaps = []
    for run in runs:
        for at_mm, gap_mm in ((0, 150), (run.length_mm, 150 if run.run.endswith("N") else 170)):
            far_end = run.run == "L03-E" and at_mm
            nominal = run.level == "L04" or far_end
            gaps.append(
                Gap(
                    run=run.run,
                    at_mm=at_mm,
                    gap_mm=gap_mm,
                    basis="nominal" if nominal else "measured",
                    tolerance_mm=12 if nominal else None,
                )
            )
    return Project(
        project=Heading(
            name="Quarry Yard (invented)",
            currency="AUD",
            country="AU",
            order_reference="QY-3",
            buyer="Buyer (invented)",
            supplier="Supplier (invented)",
            deliver_to="Gate 2, Quarry Yard",
        ),
        products=(
            Board(
                code="B-120", length_mm=1200, width_mm=1000, thickness_mm=120, per_pack=4,
                price=Decimal("212.00"), lead_days=15, pack_name="pallet", weight_kg=Decimal("14.4"),
            ),
            *(
                Bracket(
                    code=f"K-{reach}", length_mm=reach, per_pack=25, price=Decimal("60.50"), lead_days=10,
                    pack_name="box", weight_kg=Decimal("0.35"),
                )
                for reach in range(90, 161, 10)
            ),
            Anchor(code="A-1", per_pack=100, price=Decimal("31.20"), lead_days=5, weight_kg=Decimal("0.05")),
            Tape(code="T-1", length_mm=25_000, price=Decimal("9.90"), lead_days=5),
        ),
        levels=tuple(
            Level(level=name, sequence=number, needed_on=FIRST + timedelta(weeks=number - 1))
            for number, name in enumerate(names, 1)
        ),
        runs=runs,
        gaps=tuple(gaps),
        deliveries=(DeliveryLimits(**{**LIMITS, **limits}),),
    )  # fmt: skip


@cache
def forecast_plan() -> Plan:
    """The plan of `forecast_project`."""
    return plan(forecast_project())

"""What a plan orders: lines, sums, what comes together on which day, and what stands on site."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Literal

from optimiser.model.immutable import Immutable
from optimiser.model.money import Money
from optimiser.model.project import Rate
from optimiser.model.staging import DeliverySequence
from optimiser.tables.text import counted

if TYPE_CHECKING:
    import pandas


Firmness = Literal["firm", "forecast"]
"""Firm: every gap is measured, and what is needed is certain. Forecast: a gap is still nominal."""


class OrderLine(Immutable):
    """One product for one level's delivery. `packs` are what is bought for this delivery after what earlier
    deliveries left over; the packs of a code sum to one rounding up over the whole project.

    On a firm line `allowance` is for breakage and loss. On a forecast line `needed` is what the nominal gaps
    take and `allowance` what the simulation of their tolerances puts on top; `measure_by` is the last day on
    which the level can be measured and its delivery still be ordered in time.
    """

    code: str
    kind: str
    level: str
    deliver_on: date | None
    order_by: date | None
    needed: int
    allowance: int
    quantity: int
    per_pack: int
    packs: int
    pack_name: str
    price: Money
    amount: Money
    status: Firmness = "firm"
    measure_by: date | None = None


class Order(Immutable):
    """What goes to the supplier."""

    lines: tuple[OrderLine, ...]
    total: Money
    currency: str

    def __repr__(self) -> str:
        from optimiser.tables.amounts import grouped_money

        return f"{counted(len(self.lines), 'order line')}; {grouped_money(self.total, self.currency)}"

    __str__ = __repr__

    def _repr_html_(self) -> str:
        from optimiser.tables.order_lines import ORDER_LINES
        from optimiser.tables.text import html_of

        return html_of(ORDER_LINES, self.lines, repr(self), self.currency)

    def to_frame(self) -> pandas.DataFrame:
        """The order lines as a frame.

        Returns
        -------
        pandas.DataFrame
            Shape (order lines, 16), a row a line: level, deliver_on, order_by, kind, code, needed, allowance,
            quantity, per_pack, packs, pack_name, price, amount, status, measure_by, currency. Counts are in single
            boards, brackets, anchors and rolls, `packs` in packs; `price` is of one pack and `amount` of the line, both
            exact `decimal.Decimal` in `currency`; `deliver_on`, `order_by` and `measure_by` (of a forecast) are days,
            NaT where there is none; `status` is firm or forecast.
        """
        from optimiser.tables.columns import CURRENCY, constant
        from optimiser.tables.frames import frame_of
        from optimiser.tables.order_lines import ORDER_LINES

        return frame_of((*ORDER_LINES, constant(CURRENCY, self.currency)), self.lines)


class Delivery(Immutable):
    """What arrives together: the lines with packs for a level, on its date.

    Where the project limits its deliveries one may serve several `levels` (`level` is the first of them), and
    `trucks` and `pallets` say what brings it, `weight_kg` what it weighs (None where the boards' weight is not
    known); otherwise these stay empty.
    """

    level: str
    sequence: DeliverySequence
    deliver_on: date | None
    order_by: date | None
    packs: dict[str, int]
    amount: Money
    levels: tuple[str, ...] = ()
    trucks: int | None = None
    pallets: int | None = None
    weight_kg: Rate | None = None


class DeliveryCosts(Immutable):
    """What the order costs with what brings and stores it: one sum, and what no schedule of its lines can go below.

    `goods` are the order's lines at the prices of their deliveries, `delivery` the loads at the cost of one,
    `storage` the m2 taken for weeks (`storage_m2_weeks`) at its cost, rounded to the cent, `waiting` what
    remainders cost that wait. `lower_bound` holds for every schedule that keeps the limits as nearly as this one.
    """

    goods: Money
    loads: int
    delivery: Money
    storage_m2_weeks: Rate
    storage: Money
    waiting: Money
    total: Money
    lower_bound: Money
    optimal: bool


class Carrying(Immutable):
    """What boards and their waiting cost in one sum, where keeping a remainder has a price.

    `price` is for one remainder and delivery, `remainder_stages` how many the plan keeps (remainders times
    deliveries), `carrying` what that costs. `boards` is what is paid for boards, whole packs with their allowance at
    the products' prices; where a level is nominal and its packs follow from simulation, the boards at the price of
    one. No cutting of the same pieces comes to less than `lower_bound` in all.
    """

    price: Money
    remainder_stages: int
    boards: Money
    carrying: Money
    total: Money
    lower_bound: Money
    optimal: bool


class OnSite(Immutable):
    """What board stands on site once a day's delivery is there and nothing of it is cut yet.

    `face_mm2` is the boards' face area, `floor_mm2` (rounded up) the floor that their stacks take (None where no
    stack is given), `weight_kg` their weight (None where a board's is not known), `floor_load_kg_m2` that of the
    heaviest stack on its floor, `floor_load_kept` whether the floor carries it (None: not known, or no limit).
    """

    day: date
    levels: tuple[str, ...]
    face_mm2: int
    floor_mm2: int | None
    weight_kg: Rate | None
    floor_load_kg_m2: Rate | None
    floor_load_kept: bool | None

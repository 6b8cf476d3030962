"""What is ordered on top of an order that is placed, which of its packs come earlier, and the whole as it stands."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from optimiser.model.needs import LevelNeeds
from optimiser.model.order import Order, OrderLine
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.model.refit import BroughtForward
from optimiser.planning.plan import plan
from optimiser.replanning.supplement import SupplementaryOrder, order_with, supplementary_order
from tests.builders.levels import building

DAY = date(2027, 2, 22)


def survey(per_pack: int = 1) -> Project:
    """Three levels on one day; boards at 53.00 a pack of so many."""
    base = building()
    return base.model_copy(
        update={
            "products": tuple(
                item.model_copy(update={"per_pack": per_pack}) if item.kind == "board" else item
                for item in base.products
            )
        }
    )


def line(
    level: str, packs: int, amount: str, *, needed: int = 0, per_pack: int = 1, **other: Any
) -> OrderLine:
    return OrderLine(
        **{
            "code": "B-120",
            "kind": "board",
            "level": level,
            "deliver_on": DAY,
            "order_by": DAY,
            "needed": needed,
            "allowance": 0,
            "quantity": needed,
            "per_pack": per_pack,
            "packs": packs,
            "pack_name": "",
            "price": Decimal("53.00"),
            "amount": Decimal(amount),
            **other,
        }
    )


def order(*lines: OrderLine) -> Order:
    return Order(lines=lines, total=sum((one.amount for one in lines), Decimal(0)), currency="AUD")


def told(found: Order) -> list[tuple[str, int, Decimal, int, int]]:
    return [(one.level, one.packs, one.amount, one.needed, one.quantity) for one in found.lines]


def forward(packs: int, from_level: str, to_level: str) -> BroughtForward:
    return BroughtForward(code="B-120", packs=packs, from_level=from_level, to_level=to_level)


# -- the whole order


def test_what_is_ordered_on_top_joins_the_line_of_its_level() -> None:
    placed = order(line("L1", 2, "106.00", needed=2), line("L2", 1, "53.00", needed=1))
    more = order(line("L2", 3, "165.00", needed=3), line("L3", 1, "55.00", needed=1))
    whole = order_with(placed, more, (), survey())
    assert told(whole) == [
        ("L1", 2, Decimal("106.00"), 2, 2),
        ("L2", 4, Decimal("218.00"), 4, 4),
        ("L3", 1, Decimal("55.00"), 1, 1),
    ]
    assert whole.total == Decimal("379.00")


def test_a_pack_that_is_brought_forward_takes_its_price_with_it() -> None:
    """Three packs of L3 at 50.00 in all: two of them are 33.33, and the cent that is over stays."""
    placed = order(line("L1", 1, "53.00", needed=1), line("L3", 3, "50.00", needed=3))
    whole = order_with(placed, order(), [forward(2, "L3", "L1")], survey())
    assert told(whole) == [("L1", 3, Decimal("86.33"), 1, 1), ("L3", 1, Decimal("16.67"), 3, 3)]
    assert whole.total == placed.total


def test_a_pack_that_is_brought_forward_to_a_level_without_a_line_makes_one() -> None:
    placed = order(line("L3", 3, "159.00", needed=3))
    whole = order_with(placed, order(), [forward(1, "L3", "L2")], survey())
    assert told(whole) == [("L2", 1, Decimal("53.00"), 0, 0), ("L3", 2, Decimal("106.00"), 3, 3)]
    assert whole.lines[0].deliver_on == DAY


# -- what is ordered on top


def placed_plan(*lines: OrderLine, per_pack: int = 1) -> Plan:
    made = plan(survey(per_pack), advise=False)
    return made.model_copy(update={"order": order(*lines)})


def on_top(made: Plan, in_all: dict[str, int]) -> SupplementaryOrder:
    """What is ordered where nothing is cut yet and the levels take these boards in all."""
    needs = LevelNeeds({level: {"B-120": number} for level, number in in_all.items()})
    return supplementary_order(made, made.project, LevelNeeds({}), needs)


def test_nothing_is_ordered_while_every_level_s_boards_come_in_time() -> None:
    found = on_top(placed_plan(line("L1", 3, "159.00")), {"L1": 1, "L2": 1, "L3": 1})
    assert (found.order.lines, found.brought_forward, dict(found.units)) == ((), (), {})


def test_what_only_comes_too_late_is_brought_forward_from_the_next_level_that_has_any() -> None:
    made = placed_plan(line("L2", 1, "53.00"), line("L3", 2, "106.00"))
    found = on_top(made, {"L1": 2, "L2": 1, "L3": 0})
    assert found.order.lines == ()
    assert found.brought_forward == (forward(1, "L2", "L1"), forward(1, "L3", "L1"), forward(1, "L3", "L2"))
    twice = on_top(placed_plan(line("L3", 2, "106.00")), {"L1": 2})
    assert twice.brought_forward == (forward(2, "L3", "L1"),)


def test_what_lacks_in_all_is_ordered_for_the_level_that_first_runs_short() -> None:
    made = placed_plan(line("L1", 1, "53.00", per_pack=2), line("L3", 1, "53.00", per_pack=2), per_pack=2)
    found = on_top(made, {"L1": 1, "L2": 4, "L3": 2})
    (new,) = found.order.lines
    assert (new.level, new.packs, new.needed, new.allowance, new.quantity) == ("L2", 2, 3, 0, 3)
    assert (new.amount, found.order.total) == (Decimal("106.00"), Decimal("106.00"))
    assert found.units == {"B-120": 4}
    assert found.brought_forward == ()


def test_packs_of_a_level_that_is_surveyed_no_more_come_with_the_first() -> None:
    made = placed_plan(line("L9", 2, "106.00"), line("L2", 1, "53.00"))
    assert on_top(made, {"L1": 2, "L2": 1}).order.lines == ()
    assert on_top(made, {"L1": 2, "L2": 1}).brought_forward == ()

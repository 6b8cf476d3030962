"""What must be ordered on top of an order that is placed, and which of its packs must come earlier.

What is bought stays bought and serves first, product by product. As much is asked for as the whole building takes
now, with the allowance on what is still to be cut or fitted. What the placed order lacks in all is ordered for
the level that first runs short; where only its packs come too late, later levels' packs are brought forward.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from optimiser.cutting.problem import Layout
from optimiser.deliveries import price_of
from optimiser.ordering import Needed, money_of
from optimiser.plan import Order, OrderLine, Plan, PlannedPiece
from optimiser.planning import bought_by_level
from optimiser.project import KINDS, Level, Product, Project
from optimiser.refit import BroughtForward
from optimiser.working_days import WorkingDays, working_days_of


@dataclass(frozen=True)
class More:
    """The lines to order on top, the single units that they bring, and packs to bring forward."""

    order: Order
    units: Counter[str]
    brought_forward: tuple[BroughtForward, ...]


def units_bought(plan: Plan) -> Counter[str]:
    """Single boards, brackets, anchors and rolls that the plan's order brings, by product code."""
    found: Counter[str] = Counter()
    for line in plan.order.lines:
        found[line.code] += line.packs * line.per_pack
    return found


def boards_cut_by_level(plan: Plan, survey: Project, cut: Sequence[Layout]) -> Needed:
    """Boards that are cut already, by level and code; a level that the survey has no more counts as its first."""
    found: dict[str, dict[str, int]] = {}
    for level, boards in bought_by_level(plan.project, plan.pieces, cut).items():
        here = found.setdefault(_level_in(survey, level), {})
        for code, number in boards.items():
            here[code] = here.get(code, 0) + number
    return found


def boards_anew_by_level(survey: Project, pieces: Sequence[PlannedPiece], anew: Iterable[Layout]) -> Needed:
    """Boards, not left-overs, that the recut takes, by level and code."""
    codes = {product.code for product in survey.products_of("board")}
    return bought_by_level(survey, pieces, [layout for layout in anew if layout.stock in codes])


def together(some: Needed, others: Needed) -> Needed:
    """The sum of both, by level and code."""
    found: dict[str, Counter[str]] = {}
    for part in (some, others):
        for level, here in part.items():
            found.setdefault(level, Counter()).update(here)
    return found


def more_to_order(plan: Plan, survey: Project, used: Needed, in_all: Needed) -> More:
    """What to order on top of the plan's order.

    `used` is what is cut or fitted already and `in_all` that and what is still to come, by level and product: given
    together, since a roll of tape that is begun on a fitted level serves the next. A line's `needed` are the units
    that the placed order is short of, allowance included; its own `allowance` is 0.
    Raises ValueError for a sum of money that no building costs.
    """
    calendar = working_days_of(survey.project.country)
    levels = survey.levels_in_order()
    lines: list[OrderLine] = []
    moved: list[BroughtForward] = []
    units: Counter[str] = Counter()
    for product in sorted(survey.products, key=lambda product: KINDS.index(product.kind)):
        supply = _Supply(plan, survey, product)
        asked = supply.asked(used, in_all)
        lacking = max(0, asked[-1] - sum(supply.units))
        extra = -(-lacking // product.per_pack)
        short = lacking  # units that the extra packs stand for, told with their level's line
        so_far = 0
        for rank, level in enumerate(levels):
            so_far += supply.units[rank]
            packs = 0
            while so_far < asked[rank]:
                if extra:
                    extra, packs, so_far = extra - 1, packs + 1, so_far + product.per_pack
                else:
                    so_far += supply.bring_forward(rank)
            if packs:
                told = min(short, packs * product.per_pack)
                short -= told
                units[product.code] += packs * product.per_pack
                lines.append(_line(survey, product, level, told, packs, calendar))
        moved += supply.moves()
    in_order = {level.level: rank for rank, level in enumerate(levels)}
    lines.sort(key=lambda line: (in_order[line.level], KINDS.index(line.kind)))
    total = money_of(sum(line.amount for line in lines))
    order = Order(lines=tuple(lines), total=total, currency=survey.project.currency)
    return More(order, units, tuple(moved))


class _Supply:
    """One product's placed packs, level by level in delivery order."""

    def __init__(self, plan: Plan, survey: Project, product: Product) -> None:
        self.product = product
        self.levels = [level.level for level in survey.levels_in_order()]
        rank = {level: place for place, level in enumerate(self.levels)}
        self.packs = [0] * len(self.levels)
        self.per_pack = product.per_pack
        for line in plan.order.lines:
            if line.code == product.code:
                self.packs[rank[_level_in(survey, line.level)]] += line.packs
                self.per_pack = line.per_pack
        self.fraction = _fraction(plan, survey, product)
        self.moved: Counter[tuple[int, int]] = Counter()

    @property
    def units(self) -> list[int]:
        """Single units that come with each level."""
        return [packs * self.per_pack for packs in self.packs]

    def asked(self, used: Needed, in_all: Needed) -> list[int]:
        """Units asked for up to each level: all of them, and the allowance on those that are not used yet."""
        found = []
        before = so_far = 0
        for level in self.levels:
            before += used.get(level, {}).get(self.product.code, 0)
            so_far += in_all.get(level, {}).get(self.product.code, 0)
            found.append(so_far + ceil((so_far - before) * self.fraction))
        return found

    def bring_forward(self, to_rank: int) -> int:
        """Moves one pack of the next later level that has any; the units that it brings."""
        later = next(rank for rank in range(to_rank + 1, len(self.packs)) if self.packs[rank])
        self.packs[later] -= 1
        self.moved[later, to_rank] += 1
        return self.per_pack

    def moves(self) -> list[BroughtForward]:
        """The packs that were brought forward."""
        return [
            BroughtForward(
                code=self.product.code,
                packs=packs,
                from_level=self.levels[later],
                to_level=self.levels[earlier],
            )
            for (later, earlier), packs in sorted(self.moved.items())
        ]


def _level_in(survey: Project, level: str) -> str:
    known = {row.level for row in survey.levels}
    return level if level in known else survey.levels_in_order()[0].level


def _fraction(plan: Plan, survey: Project, product: Product) -> Fraction:
    """The allowance of a product: the survey's, or for a simulated one the share that the plan ordered."""
    row = next((row for row in survey.allowance if row.kind == product.kind), None)
    if row is None:
        return Fraction(0)
    if row.fraction != "simulated":
        return Fraction(row.fraction)
    lines = [line for line in plan.order.lines if line.code == product.code]
    needed = sum(line.needed for line in lines)
    return Fraction(sum(line.allowance for line in lines), needed) if needed else Fraction(0)


def _line(
    survey: Project, product: Product, level: Level, missing: int, packs: int, calendar: WorkingDays
) -> OrderLine:
    deliver_on = None if level.needed_on is None else calendar.on_or_before(level.needed_on)
    price = price_of(survey, product.code, packs)
    return OrderLine(
        code=product.code,
        kind=product.kind,
        level=level.level,
        deliver_on=deliver_on,
        order_by=None if deliver_on is None else calendar.before(deliver_on, product.lead_days),
        needed=missing,
        allowance=0,
        quantity=missing,
        per_pack=product.per_pack,
        packs=packs,
        pack_name=product.pack_name,
        price=money_of(price),
        amount=money_of(packs * price),
    )


def order_with(
    placed: Order, more: Order, brought_forward: Iterable[BroughtForward], survey: Project
) -> Order:
    """The whole order as it stands with `more` on top of `placed` and packs brought forward.

    One line a product and level, in the survey's delivery order. Amounts add up, so a line may hold packs of two
    prices; a pack that is brought forward keeps its price.
    """
    lines: dict[tuple[str, str], OrderLine] = {(line.level, line.code): line for line in placed.lines}
    dates = {level.level: level.needed_on for level in survey.levels}
    calendar = working_days_of(survey.project.country)
    for move in brought_forward:
        source = lines[move.from_level, move.code]
        cents = source.amount * move.packs // source.packs if source.packs else 0
        lines[move.from_level, move.code] = _changed(source, -move.packs, -cents)
        target = lines.get((move.to_level, move.code))
        if target is None:
            day = dates[move.to_level]
            deliver_on = None if day is None else calendar.on_or_before(day)
            lead = survey.product(move.code).lead_days
            target = source.model_copy(
                update={
                    "level": move.to_level,
                    "deliver_on": deliver_on,
                    "order_by": None if deliver_on is None else calendar.before(deliver_on, lead),
                    "needed": 0,
                    "allowance": 0,
                    "quantity": 0,
                    "packs": 0,
                    "amount": 0,
                }
            )
        lines[move.to_level, move.code] = _changed(target, move.packs, cents)
    for line in more.lines:
        before = lines.get((line.level, line.code))
        lines[line.level, line.code] = (
            line if before is None else _changed(before, line.packs, line.amount, line.needed)
        )
    rank = {level.level: place for place, level in enumerate(survey.levels_in_order())}
    kinds: Mapping[str, int] = {product.code: KINDS.index(product.kind) for product in survey.products}
    ordered = sorted(
        lines.values(), key=lambda line: (rank.get(line.level, -1), kinds.get(line.code, len(KINDS)))
    )
    total = money_of(sum(line.amount for line in ordered))
    return Order(lines=tuple(ordered), total=total, currency=placed.currency)


def _changed(line: OrderLine, packs: int, cents: int, needed: int = 0) -> OrderLine:
    return line.model_copy(
        update={
            "packs": line.packs + packs,
            "amount": line.amount + cents,
            "needed": line.needed + needed,
            "quantity": line.quantity + needed,
        }
    )

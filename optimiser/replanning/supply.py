"""What was ordered and what of it may still be planned with, and what is needed beyond that.

Of what is ordered and not used yet so much may be planned with that the allowance for breakage and loss on it is left.
Needs are met from it in the order of delivery; only the rest is ordered.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from optimiser.boards.paid_packs import flat_fractions
from optimiser.model.needs import ByLevel, LevelNeeds
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.progress import AtHand, Supplied
from optimiser.model.project import Project
from optimiser.ordering.order import ToOrder, needed_by_level
from optimiser.replanning.job_state import Happened
from optimiser.takeoff.brackets import count_by_level
from optimiser.takeoff.quantities import unit_of


def most_with_allowance(units: int, fraction: Fraction) -> int:
    """The most that may be planned with when there are `units` (tape: mm), and the allowance on it is left.

    >>> most_with_allowance(152, Fraction(2, 100))
    149
    """
    most = int(units / (1 + fraction))
    return max(0, most if most + ceil(most * fraction) <= units else most - 1)


def used_units(state: Happened, fitted: LevelNeeds) -> Counter[str]:
    """Boards opened that were bought, and what fitted pieces took of brackets, anchors and tape (in mm), by code."""
    return Counter(board.code for board in state.boards if board.bought) + fitted.total()


def supplied(project: Project, used: Mapping[str, int], state: Happened) -> tuple[Supplied, ...]:
    """Each product that was ordered, delivered, lost or used, in the trade's order."""
    fractions = flat_fractions(project)
    found = []
    for product in project.building.in_trade_order:
        code, unit = product.code, unit_of(product)
        taken = used.get(code, 0)
        ordered = max(state.ordered[code], state.delivered[code])
        if not (ordered or taken or state.lost[code]):
            continue
        left = max(0, (ordered - state.lost[code]) * unit - taken)
        found.append(
            Supplied(
                code=code,
                ordered=ordered,
                delivered=max(state.delivered[code], min(ceil(Fraction(taken, unit)), ordered)),
                lost=state.lost[code],
                used=taken,
                usable=most_with_allowance(left, fractions.get(code, Fraction(0))),
            )
        )
    return tuple(found)


def whole_boards(project: Project, supplies: Iterable[Supplied], state: Happened) -> tuple[AtHand, ...]:
    """Whole boards on site, and those on order with the delivery that brings them; together as many as are usable."""
    found: list[AtHand] = []
    for item in supplies:
        board = project.building.boards.get(item.code)
        if board is None or not item.usable:
            continue
        usable = item.usable
        on_site = min(usable, max(0, item.delivered - item.used - item.lost))
        whole = AtHand(
            name=f"{item.code} on site",
            kind="on site",
            code=item.code,
            length_mm=board.length_mm,
            width_mm=board.width_mm,
            quantity=max(1, on_site),
        )
        if on_site:
            found.append(whole)
        usable -= on_site
        arrived = item.delivered
        for level, number in _by_delivery(project, state.ordered_for.get(item.code, Counter())):
            here = max(0, number - arrived)
            arrived = max(0, arrived - number)
            here = min(here, usable)
            usable -= here
            if here:
                name = f"{item.code} for {level}" if level else f"{item.code} on order"
                found.append(
                    whole.model_copy(
                        update={"name": name, "kind": "on order", "quantity": here, "level": level}
                    )
                )
    return tuple(found)


def _by_delivery(project: Project, ordered_for: Mapping[str, int]) -> list[tuple[str, int]]:
    """What was ordered for each level in the order of delivery; what names no level is there at once."""
    place = project.building.place_of_level
    return sorted(ordered_for.items(), key=lambda item: place.get(item[0], -1))


@dataclass(frozen=True)
class Supply:
    """What a job has of each product that may still be planned with, and what of it the cutting takes: to find what
    must be ordered beyond it, the first deliveries served first."""

    project: Project
    fitted: LevelNeeds
    supplies: tuple[Supplied, ...]
    boards_cut: Mapping[str, int]

    def beyond(self, needed: LevelNeeds, on_top: LevelNeeds | None) -> ToOrder:
        """What must still be ordered, by level and code (tape in mm): of what is needed, and of what the simulation of
        nominal gaps puts on top of it; and what was supplied, each with what is spare then. Boards at hand are cut as
        such, so what is needed of boards is beyond them already; those that nothing is cut from serve what is on top.
        """
        boards = self.project.building.boards
        left = {item.code: item.usable for item in self.supplies}
        for code in boards:
            left[code] = max(0, left.get(code, 0) - self.boards_cut.get(code, 0))
        open_needs = {
            level: {
                code: number - (0 if code in boards else self.fitted.of(level, code))
                for code, number in here.items()
            }
            for level, here in needed.items()
        }
        still_needed = self._less(open_needs, left, without=boards)
        more = None if on_top is None else self._less(on_top, left)
        supplied = tuple(
            item.model_copy(update={"spare": max(0, left.get(item.code, 0))}) for item in self.supplies
        )
        return ToOrder(still_needed, more, supplied)

    def _less(self, wanted: ByLevel, left: dict[str, int], without: Collection[str] = ()) -> LevelNeeds:
        """What is wanted less what is left, which it takes."""
        found: dict[str, dict[str, int]] = {}
        for level in self.project.levels_in_order():
            here: dict[str, int] = {}
            for code, number in wanted.get(level.level, {}).items():
                taken = 0 if code in without else min(max(0, number), left.get(code, 0))
                left[code] = left.get(code, 0) - taken
                if number - taken > 0:
                    here[code] = number - taken
            found[level.level] = here
        return LevelNeeds(found)


def fitted_needs(project: Project, pieces: Iterable[PlannedPiece], fitted: Collection[str]) -> LevelNeeds:
    """Brackets, anchors and tape (in mm) of fitted pieces, and of joints between two of them, by level and code."""
    done = tuple(piece for piece in pieces if piece.id in fitted)
    return needed_by_level(project, LevelNeeds({}), dict(count_by_level(project, done)))

"""What one more piece would cost, for every length and width: prices by which the joints are laid again.

The linear program over board patterns values every slot and every piece. A piece of a given length and width
needs a strip at least so wide and takes from it the room that other pieces would be worth; the strip takes
from its board the room that other strips would be worth. The price is the least of board less strips less
pieces (the reduced cost of the two-stage scheme of Gilmore and Gomory, Operations Research 13, 1965, for a
type that is not in the program yet). Stages are left aside: prices guide, they prove nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optimiser.cutting.columns import complete
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.generation import MORE_THAN_ANY_COST, ColumnGeneration
from optimiser.cutting.master import Floats, Master
from optimiser.cutting.parts import Family, Source
from optimiser.cutting.problem import CuttingProblem

CLOSE = 1e-3  # part of the value within which the linear program is solved: prices need no more


@dataclass(frozen=True)
class PiecePrices:
    """`value`: the linear program's, in the problem's own units (boards, or cents with several sizes);
    `price[length_mm, width_mm]`: what one more piece of that length and least width adds to it."""

    value: float
    price: Floats


def fractional_cost(problem: CuttingProblem, seconds_left: Callable[[], float] | None = None) -> float:
    """The linear program's value with all stages as one; infinity when time ran out."""
    return _solved(problem, seconds_left)[0]


def price_pieces(problem: CuttingProblem, seconds_left: Callable[[], float] | None = None) -> PiecePrices:
    """Prices at the linear program's duals, 0 to the longest board by 0 to the widest, in mm."""
    value, generation = _solved(problem, seconds_left)
    demand, master = generation.demand, generation.master
    duals = master.duals()
    bought = [source for source in demand.sources if source.available is None]
    price = np.full(
        (max(source.length for source in bought) + 1, max(source.width for source in bought) + 1),
        2.0 * max(source.price for source in bought),  # what fits no board is worth avoiding
    )
    for source in bought:
        if not len(demand.families[source.family].widths):
            continue  # no piece may come from this board
        found = _prices_of(demand, master, duals, source)
        part = price[: source.length + 1, : source.width + 1]
        np.minimum(part, found, out=part)
    return PiecePrices(value, price)


def _solved(
    problem: CuttingProblem, seconds_left: Callable[[], float] | None
) -> tuple[float, ColumnGeneration]:
    together = problem.model_copy(
        update={
            "pieces": tuple(piece.model_copy(update={"stage": 1}) for piece in problem.pieces),
            "offcuts": tuple(offcut.model_copy(update={"stage": 1}) for offcut in problem.offcuts),
            "max_carry_stages": None,
        }
    )
    demand = prepare(together)
    generation = ColumnGeneration(demand, complete(demand, []), seconds_left)
    value = generation.run(
        lambda: MORE_THAN_ANY_COST,
        lambda: seconds_left is not None and seconds_left() <= 0,
        within=CLOSE,
    )
    return value, generation


def _prices_of(demand: Demand, master: Master, duals: Floats, source: Source) -> Floats:
    """Prices of pieces out of one board size."""
    family = demand.families[source.family]
    first = master.slot_row[source.family]
    slots = np.maximum.accumulate(np.maximum(0.0, duals[first : first + len(family.widths)]))
    kerf = family.kerf
    beside = _worth_by_room(source.width + kerf, family.widths.astype(np.int64) + kerf, slots[:, None])[:, 0]
    room = source.width - np.arange(source.width + 1)  # beside a strip: less its width and a kerf, plus one
    strip = source.price - beside[room]
    lengths, worths = _worths_of_pieces(demand, master, duals, family, slots)
    along = _worth_by_room(source.length + kerf, lengths + kerf, worths)
    narrower = np.searchsorted(family.widths, np.arange(source.width + 1), side="right") - 1
    # by length and width: what else the strip that the width needs can hold beside the length
    rest = along[source.length - np.arange(source.length + 1)][:, np.maximum(narrower, 0)]
    rest[:, narrower < 0] = 0.0
    price = np.maximum(0.0, strip - rest)
    if demand.problem.trim:  # a piece may come from any wider strip
        price = np.minimum.accumulate(price[:, ::-1], axis=1)[:, ::-1]
    return price


def _worths_of_pieces(
    demand: Demand, master: Master, duals: Floats, family: Family, slots: Floats
) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], Floats]:
    """The distinct lengths of a family's pieces, and the most that one of each is worth in each strip width."""
    lengths = np.unique(np.array([component.length for component in family.components], dtype=np.int64))
    worths = np.zeros((len(lengths), len(family.widths)))
    for component in family.components:
        if len(component.types) > 1:
            continue  # a tapered pair: its pieces stand alone as well
        kind = component.types[0]
        row = master.row_of_type[kind]
        worth = duals[row] if row >= 0 else slots[family.index_of_width[component.width_min]]
        fits = (family.widths >= component.width_min) & (family.widths <= component.width_max)
        here = worths[np.searchsorted(lengths, component.length)]
        here[fits] = np.maximum(here[fits], worth)
    return lengths, worths


def _worth_by_room(room: int, sizes: np.ndarray[tuple[int], np.dtype[np.int64]], worths: Floats) -> Floats:
    """The most that fits into each room from 0 to `room`: one knapsack a column of `worths` [size, column],
    each size (ascending) as often as it fits."""
    best = np.zeros((room + 1, worths.shape[1]))
    smallest = int(sizes[0]) if len(sizes) else room + 1
    # so many rooms at once as the smallest size leaves: what they hold beside a size is known by then
    for begin in range(smallest, room + 1, smallest):
        end = min(begin + smallest, room + 1)
        for size, worth in zip(sizes.tolist(), worths, strict=True):
            if size >= end:
                break
            least = max(begin, size)
            here = best[least:end]
            np.maximum(here, best[least - size : end - size] + worth, out=here)
        np.maximum.accumulate(best[begin - 1 : end], axis=0, out=best[begin - 1 : end])
    return best

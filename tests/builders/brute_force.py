"""The minimum of a tiny cutting problem by trying everything: nothing clever, nothing of the solver."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import combinations
from typing import NamedTuple

from optimiser.cutting.problem import CuttingProblem, Offcut, Piece


class Minimum(NamedTuple):
    """Fewest boards that any plan buys, and least cost in cents that any plan pays (perhaps another plan).

    `piece_stages` is the least waiting at the least cost (several boards) or with the fewest boards (one), and
    `piece_stages_with_more` the same where one board more may be bought.
    """

    boards: int
    cost_cents: int
    piece_stages: int = 0
    piece_stages_with_more: int = 0


class _Stock(NamedTuple):
    """One board or offcut to cut from. `stage` is None for a board: it is bought when it is first needed."""

    code: str
    length_mm: int
    width_mm: int
    kerf_mm: int
    stage: int | None
    price_cents: int


def minimum_by_trying_everything(problem: CuttingProblem) -> Minimum:
    """The exact minimum over all plans of a problem with at most some seven pieces, none of them tapered.

    Every division of the pieces among boards and offcuts is tried, and for each board every division of its
    pieces into strips. Raises ValueError for a tapered piece or for more than eight pieces.
    """
    pieces = [piece for piece in problem.pieces for _ in range(piece.quantity)]
    if len(pieces) > 8:
        raise ValueError(f"{len(pieces)} pieces are too many to try everything")
    if any(piece.tapered for piece in pieces):
        raise ValueError("tapered pieces are not tried here")
    boards = [
        _Stock(board.code, board.length_mm, board.width_mm, board.kerf_mm, None, board.price_cents)
        for board in problem.boards
    ]
    offcuts = tuple(
        _offcut_stock(offcut, problem) for offcut in problem.offcuts for _ in range(offcut.quantity)
    )

    @cache
    def fits(group: frozenset[int], stock: _Stock) -> bool:
        return _one_stock_serves([pieces[index] for index in group], stock, problem)

    @cache
    def least(remaining: frozenset[int], offcuts_left: tuple[_Stock, ...], by_cost: bool) -> int:
        if not remaining:
            return 0
        options: list[int] = []
        for group, stock, rest in choices(remaining, offcuts_left):
            price = 0 if stock.stage is not None else stock.price_cents if by_cost else 1
            options.append(price + least(remaining - group, rest, by_cost))
        return min(options)

    def choices(
        remaining: frozenset[int], offcuts_left: tuple[_Stock, ...]
    ) -> Iterator[tuple[frozenset[int], _Stock, tuple[_Stock, ...]]]:
        """What the first remaining piece may be cut together with, from what, and the offcuts that are left."""
        first = min(remaining)
        for others in _subsets(sorted(remaining - {first})):
            group = frozenset({first, *others})
            for board in boards:
                if fits(group, board):
                    yield group, board, offcuts_left
            for index, offcut in enumerate(offcuts_left):
                if fits(group, offcut):
                    yield group, offcut, offcuts_left[:index] + offcuts_left[index + 1 :]

    @cache
    def least_waiting(remaining: frozenset[int], offcuts_left: tuple[_Stock, ...], money: int) -> int | None:
        """Pieces times stages from the opening of their board, with no more than `money` paid; None: too little."""
        if not remaining:
            return 0
        options: list[int] = []
        for group, stock, rest in choices(remaining, offcuts_left):
            price = 0 if stock.stage is not None else stock.price_cents if by_cost else 1
            if price > money:
                continue
            later = least_waiting(remaining - group, rest, money - price)
            if later is not None:
                stages = [pieces[index].stage for index in group]
                options.append(later + sum(stages) - len(stages) * min(stages))
        return min(options, default=None)

    by_cost = not problem.counts_boards
    everything = frozenset(range(len(pieces)))
    cost = least(everything, offcuts, by_cost)
    more = max(board.price_cents for board in boards) if by_cost else 1
    waiting, with_more = (least_waiting(everything, offcuts, money) for money in (cost, cost + more))
    assert waiting is not None, "the least cost pays for a plan"
    assert with_more is not None, "so does more"
    return Minimum(least(everything, offcuts, False), least(everything, offcuts, True), waiting, with_more)


def _offcut_stock(offcut: Offcut, problem: CuttingProblem) -> _Stock:
    kerfs = {board.kerf_mm for board in problem.boards if offcut.code in ("", board.code)}
    kerf = max(kerfs, default=max(board.kerf_mm for board in problem.boards))
    return _Stock(offcut.code, offcut.length_mm, offcut.width_mm, kerf, offcut.stage, 0)


def _one_stock_serves(group: list[Piece], stock: _Stock, problem: CuttingProblem) -> bool:
    if any(piece.boards and stock.code and stock.code not in piece.boards for piece in group):
        return False
    available = min(piece.stage for piece in group) if stock.stage is None else stock.stage
    for piece in group:
        carried = piece.stage - available
        if carried < 0:
            return False
        if problem.max_carry_stages is not None and carried > problem.max_carry_stages:
            return False
    return any(
        _total([_strip_width(strip, stock, problem.trim) for strip in strips], stock.kerf_mm)
        <= stock.width_mm
        for strips in _partitions(group)
    )


def _strip_width(strip: list[Piece], stock: _Stock, trim: bool) -> int:
    """The narrowest width of a strip that holds exactly these pieces; wider than any board if none does."""
    impossible = stock.width_mm + 1
    if _total([piece.length_mm for piece in strip], stock.kerf_mm) > stock.length_mm:
        return impossible
    for width in range(1, stock.width_mm + 1):
        if all(piece.width_min_mm <= width and (trim or width <= piece.width_max_mm) for piece in strip):
            return width
    return impossible


def _total(sizes: list[int], kerf_mm: int) -> int:
    return sum(sizes) + kerf_mm * (len(sizes) - 1)


def _subsets(items: list[int]) -> Iterator[tuple[int, ...]]:
    for size in range(len(items) + 1):
        yield from combinations(items, size)


def _partitions(items: list[Piece]) -> Iterator[list[list[Piece]]]:
    """Every way to divide the items into groups whose order does not matter."""
    if not items:
        yield []
        return
    first, *rest = items
    for partition in _partitions(rest):
        yield [[first], *partition]
        for index, group in enumerate(partition):
            yield [*partition[:index], [first, *group], *partition[index + 1 :]]

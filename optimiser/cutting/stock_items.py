"""Boards that may be bought and offcuts at hand, each with the stages it may serve."""

from __future__ import annotations

from typing import NamedTuple

from optimiser.cutting.parts import WIDEST, PieceType
from optimiser.cutting.problem import CuttingProblem


def stages_served(problem: CuttingProblem) -> tuple[list[tuple[int, int]], dict[int, int]]:
    """The stage windows of bought boards, and each stage's class: stages of a class are served alike.

    With unlimited carry a board serves every stage from its own on, and it is delivered with its first piece,
    so one window holds them all; only offcuts that appear later tell stages apart.
    """
    stages = sorted({piece.stage for piece in problem.pieces})
    carry = problem.max_carry_stages
    if not stages:
        return [], {}
    if carry is None or carry >= stages[-1] - stages[0]:
        limits = sorted({offcut.stage for offcut in problem.offcuts})
        class_of = {stage: sum(limit <= stage for limit in limits) for stage in stages}
        if carry is not None and problem.offcuts and limits[0] + carry < stages[-1]:
            class_of = {stage: stage for stage in stages}  # early offcuts do not last: tell all stages apart
        return [(stages[0], stages[-1])], class_of
    return [(stage, stage + carry) for stage in stages], {stage: stage for stage in stages}


class StockItem(NamedTuple):
    """Material before it is known with which other it shares a family."""

    name: str
    code: str
    length: int
    width: int
    kerf: int
    price: int
    available: int | None
    first: int
    last: int


def stock_items(problem: CuttingProblem, windows: list[tuple[int, int]]) -> list[StockItem]:
    """Each board once a stage window, then each offcut with the stages that it lasts for."""
    items = [
        StockItem(
            board.code,
            board.code,
            board.length_mm,
            board.width_mm,
            board.kerf_mm,
            price,
            None,
            first,
            last,
        )
        for board, price in zip(problem.boards, problem.solver_prices, strict=True)
        for first, last in windows
    ]
    carry = problem.max_carry_stages
    return items + [
        StockItem(
            offcut.id,
            offcut.code,
            offcut.length_mm,
            offcut.width_mm,
            problem.boards[0].kerf_mm,
            0,
            offcut.quantity,
            offcut.stage,
            WIDEST if carry is None else offcut.stage + carry,
        )
        for offcut in problem.offcuts
    ]


def alike_codes_of(items: list[StockItem], types: list[PieceType]) -> dict[str, frozenset[str]]:
    """For each code those that serve the same types, itself included; none at all where no code matters.

    A type that a code may not serve tells it from others only where it would fit: a wide piece is not cut from a
    narrow board whatever the codes say. So boards of one length share their strips unless somebody forbids it.
    """
    refused: dict[str, frozenset[int]] = {}
    for code in {item.code for item in items}:
        longest = max(item.length for item in items if item.code == code)
        widest = max(item.width for item in items if item.code == code)
        refused[code] = frozenset(
            t
            for t, kind in enumerate(types)
            if code
            and kind.codes
            and code not in kind.codes
            and kind.length <= longest
            and kind.width_min <= widest
        )
    if not any(refused.values()):
        return dict.fromkeys(refused, frozenset())
    return {
        code: frozenset(other for other in refused if other and refused[other] == refused[code])
        if code
        else frozenset()
        for code in refused
    }

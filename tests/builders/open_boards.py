"""Boards that are being put together, with the problem whose pieces they hold."""

from __future__ import annotations

from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece


def open_boards(*boards: list[list[tuple[int, int, int]]], kerf: int = 0) -> tuple[Demand, list[OpenBoard]]:
    """Boards of 1200 x 1000 mm (and a kerf), each of strips as wide as their first piece, each of pieces as (stage,
    length, width); pieces are numbered as they come."""
    flat = [piece for board in boards for strip in board for piece in strip]
    problem = CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=1000 + kerf, kerf_mm=kerf),),
        pieces=tuple(
            Piece(id=f"P{k}", length_mm=length, width_min_mm=width, width_max_mm=width, stage=stage)
            for k, (stage, length, width) in enumerate(flat)
        ),
        objective=Objective.FEWEST_BOARDS,
    )
    demand = prepare(problem)
    type_of = {member: t for t, kind in enumerate(demand.types) for member in kind.members}
    names = iter(range(len(flat)))
    made = []
    for board in boards:
        strips = []
        for strip in board:
            held = [next(names) for _ in strip]
            strips.append(OpenStrip(strip[0][2], [(type_of[k],) for k in held], [[k] for k in held]))
        made.append(OpenBoard(0, strips))
    return demand, made

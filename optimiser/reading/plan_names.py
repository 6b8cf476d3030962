"""What events may name of a plan, and what they name that it does not have."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from optimiser.model.plan import Plan
from optimiser.model.record import board_number
from optimiser.reading.cells import closest


@dataclass(frozen=True)
class PlanNames:
    """What events may name of a plan: its pieces, levels and products; `boards` are the names of boards and remainders,
    `numbers` those of layouts, opened or not."""

    pieces: frozenset[str]
    levels: frozenset[str]
    codes: frozenset[str]
    boards: frozenset[str]
    numbers: frozenset[int]

    @classmethod
    def of(cls, plan: Plan) -> PlanNames:
        """The names of a plan and of the job that it is for the rest of."""
        opened = plan.job.cut_boards
        return cls(
            frozenset(piece.id for piece in plan.pieces),
            frozenset(plan.project.building.levels),
            frozenset(plan.project.building.products),
            frozenset(
                {part.name for part in plan.remainders}
                | {item.name for item in plan.job.at_hand}
                | {part.name for board in opened for part in board.kept}
            ),
            frozenset({number for number, _ in plan.numbered_layouts} | {board.number for board in opened}),
        )

    def strange(self, values: Mapping[str, Any]) -> Iterator[tuple[str, str, str, str]]:
        """What an event's fields name that the plan does not have: field, value, what is wrong, the mend."""
        names = {"piece": self.pieces, "level": self.levels, "code": self.codes}
        for column, there in names.items():
            if (said := values.get(column)) and said not in there:
                meant = closest(said, there)
                mend = f"write {meant}" if meant else f"write a {column} of the plan"
                yield column, said, f"the plan has no such {column}", mend
        board = values.get("board")
        if board and board not in self.boards and board_number(board) not in self.numbers:
            mend = "write its layout's number, or the remainder's name as it is labelled"
            yield "board", board, "the plan has no such board", mend

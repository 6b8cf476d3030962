"""What stays on the rack: what the plan cuts, and of the rest what later levels can use, as far as there is room.

A rack of a hundred remainders is a rack on which nobody finds anything. What is worth least goes, by the worth that the
levels still to be measured give it (`boards.view_ahead`); where nothing is left to be measured, the smallest goes.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from optimiser.boards.problems import BoardFamily
from optimiser.boards.view_ahead import LEAST_WORTH, MOST_RACKED, Worth
from optimiser.model.progress import AtHand


def racked_and_discarded(
    at_hand: Sequence[AtHand], used: Collection[str], later: Sequence[BoardFamily]
) -> tuple[tuple[AtHand, ...], tuple[AtHand, ...]]:
    """What of the things at hand is kept, in their order, and which remainders and loose pieces go.

    `used` are the names of what the plan cuts, which stays; `later` the cutting of levels that are not measured yet.
    """
    racked = [item for item in at_hand if item.racked]
    room = max(0, MOST_RACKED - sum(item.name in used for item in racked))
    worth_of = {
        code: Worth.of(family.problem, family.problem.pieces) for family in later for code in family.codes
    }

    def worth(item: AtHand) -> float:
        if not later:
            return float(item.length_mm * item.width_mm)
        return worth_of[item.code].of_size(item.size) if item.code in worth_of else 0.0

    least = LEAST_WORTH if later else 0.0
    loose = [(worth(item), item.name) for item in racked if item.name not in used]
    best = {
        name for value, name in sorted(loose, key=lambda pair: (-pair[0], pair[1]))[:room] if value >= least
    }
    gone = {name for _, name in loose if name not in best}
    return (
        tuple(item for item in at_hand if item.name not in gone),
        tuple(item for item in at_hand if item.name in gone),
    )

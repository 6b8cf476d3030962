"""What the crew's printed sheets have in common: heads, the short caution, and which levels are printed."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.writing.drawing.pdf_file import Frame
from optimiser.writing.drawing.plan_index import PlanIndex

PIECES_AT_ONCE = 6000
"""Pieces whose sheets one file holds; levels after these are printed alone."""

SHORT_CAUTION = (
    "Edge: fall protection. Dust: respirator, gloves, eyes. Blade: away from the body."
    " The tested detail decides."
)
_CAUTIONS = (
    ("cutting", "Dust: respirator, gloves, eyes. Blade: away from the body. The tested detail decides."),
    ("fitting", "Edge: fall protection, exclusion zone below. The tested detail decides."),
)
DECIDES = (
    "The tested detail, local code and a licensed practitioner decide what may be built. These sheets measure and"
    " count; they do not judge the seal."
)

WITHHELD = "Withheld, because their gaps are still nominal: measure them and plan again. Levels:"
ASK_FOR_THEM = (
    "They are printed where they are asked for (barrier-orders plan --with-nominal, or with_nominal=true in the address"
    " of the file), every page marked as not ready to cut."
)
NOT_FOR_CUTTING = "NOMINAL GAPS: NOT READY TO CUT. MEASURE FIRST."


def frame_of(index: PlanIndex, title: str, revision: str) -> Frame:
    """The head and foot of the sheets of a plan's project."""
    heading = index.plan.project.project
    name = index.text(heading.name) or "Project without a name"
    order = index.text(heading.order_reference)
    reference = f"Order {order}" if order else "No order reference"
    if revision:
        reference = f"{reference} · rev. {index.text(revision)}"
    return Frame(
        title=f"{title}: {name}" + (f", order {order}" if order else ""),
        project=name,
        reference=reference,
        caution=SHORT_CAUTION,
        subject=DECIDES,
        cautions=_CAUTIONS,
    )


def levels_to_print(index: PlanIndex, levels: Sequence[str] | None) -> tuple[list[str], list[str]]:
    """The levels printed and those left out, both in delivery order.

    Without a choice, levels are printed in delivery order as long as their pieces stay within
    `PIECES_AT_ONCE`, and the first always. Raises ValueError when a chosen level is not in the project.
    """
    names = [level.level for level in index.levels]
    if levels is not None:
        unknown = sorted(set(levels) - set(names))
        if unknown:
            raise ValueError(f"the project has no level {unknown[0]}; it has {', '.join(names)}")
        return [name for name in names if name in set(levels)], []
    pieces = dict.fromkeys(names, 0)
    for piece in index.plan.pieces:
        pieces[piece.level] = pieces.get(piece.level, 0) + 1
    printed: list[str] = []
    total = 0
    for name in names:
        total += pieces[name]
        if printed and total > PIECES_AT_ONCE:
            break
        printed.append(name)
    return printed, names[len(printed) :]

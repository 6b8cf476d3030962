"""`gaps.csv`: a row an option of the comparison, for any spreadsheet.

| column | what |
| --- | --- |
| gap_mm, board, oversize_min, oversize_max, brackets_offered | the option; empty where the project's own stands |
| cut_width_mm, strips_per_board | the least cut width, and how many such strips the first board gives |
| boards, lower_bound, optimal | boards bought, the proved bound that no plan can beat, and whether they are equal |
| boards_per_100_m, scrap_fraction | of the edge compared; as in a plan's waste |
| cost, currency | the whole order in whole packs, with the project's flat allowances |
| joints, anchors, tape_mm, brackets CODE | accessories; a column for each bracket size that any option uses |
| boards_more_at_next_gap, best, problem | the tooth's step; in what it is the best of all; what cannot be built |

Empty `boards`, `lower_bound`, `scrap_fraction` and `cost`: nothing at all can be placed at that gap.
"""

from __future__ import annotations

import csv
import io
import re

from optimiser.gap_options import Comparison
from optimiser.project import money_text
from optimiser.writing.order_csv import as_text

COLUMNS = (
    "gap_mm", "boards", "lower_bound", "scrap_fraction", "cost", "joints", "currency", "optimal",
    "boards_per_100_m", "cut_width_mm", "strips_per_board", "pieces", "anchors", "tape_mm",
    "boards_more_at_next_gap", "best", "board", "oversize_min", "oversize_max", "insertion_min", "insertion_max",
    "brackets_offered", "problem",
)  # fmt: skip


def gaps_csv(comparison: Comparison) -> str:
    """The text of `gaps.csv` (RFC 4180: commas, CRLF), one row an option."""
    sizes = sorted({code for option in comparison.options for code in option.brackets}, key=_by_size)
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow((*COLUMNS, *(as_text(f"brackets {code}") for code in sizes)))
    for option in comparison.options:
        choice = option.choice
        oversize, insertion = choice.oversize or ("", ""), choice.insertion or ("", "", "")
        rows.writerow(
            (
                option.gap_mm,
                option.boards,
                option.lower_bound,
                None if option.scrap_fraction is None else f"{option.scrap_fraction:.6f}",
                None if option.cost_cents is None else money_text(option.cost_cents),
                option.joints,
                comparison.currency,
                str(option.optimal).lower(),
                option.boards_per_100_m,
                option.cut_width_mm,
                option.strips_per_board,
                option.pieces,
                option.anchors,
                option.tape_mm,
                option.boards_more_at_next_gap,
                "; ".join(option.best),
                as_text(" ".join(choice.boards)),
                oversize[0],
                oversize[1],
                insertion[0],
                insertion[2],
                as_text(" ".join(choice.brackets)),
                as_text(option.problem),
                *(option.brackets.get(code, 0) for code in sizes),
            )
        )
    return text.getvalue()


def _by_size(code: str) -> list[tuple[int, str]]:
    """K-20 before K-100: numbers in a code count as numbers."""
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"([0-9]+)", code)]

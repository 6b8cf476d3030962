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

from optimiser.studies.gap_option import Comparison
from optimiser.tables.gap_options import gap_option_columns
from optimiser.tables.text import csv_of


def gaps_csv(comparison: Comparison) -> str:
    """The text of `gaps.csv` (RFC 4180: commas, CRLF), one row an option."""
    return csv_of(gap_option_columns(comparison.currency, comparison.options), comparison.options)

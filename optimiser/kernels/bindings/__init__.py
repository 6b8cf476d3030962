"""The way into the kernels: each C function declared once, each call checked, the reference where none is compiled.

A module for each idea. Every function says what it takes and gives; what it does is said by the function of its name
in `reference/`. Arrays must have the dtype said and lie in one piece (TypeError, ValueError); what cannot be is refused
(ValueError) and never read from beyond an array. All sizes are in mm.
"""

from optimiser.kernels.bindings.accessories import (
    COUNT_ACCESSORIES,
    AccessoryRules,
    count_accessories,
    count_by_reference,
)
from optimiser.kernels.bindings.board_counts import COUNT_BOARDS, count_boards
from optimiser.kernels.bindings.forming import FILL_BOARDS, FORM_STRIPS, fill_boards, form_strips
from optimiser.kernels.bindings.joint_layout import (
    LAY_OUT_RUNS,
    ROW_WIDTH,
    LayoutRules,
    lay_out_by_reference,
    lay_out_runs,
)
from optimiser.kernels.bindings.pricing import (
    PRICE_BOARDS,
    PRICE_OFFCUTS,
    PRICE_STRIPS,
    price_boards,
    price_offcuts,
    price_strips,
)
from optimiser.kernels.bindings.rearranging import (
    REARRANGE,
    Arranged,
    BoardLimits,
    Components,
    rearrange,
    rearrange_by_reference,
)
from optimiser.kernels.bindings.runs import RunTables

__all__ = [
    "COUNT_ACCESSORIES",
    "COUNT_BOARDS",
    "FILL_BOARDS",
    "FORM_STRIPS",
    "LAY_OUT_RUNS",
    "PRICE_BOARDS",
    "PRICE_OFFCUTS",
    "PRICE_STRIPS",
    "REARRANGE",
    "ROW_WIDTH",
    "AccessoryRules",
    "Arranged",
    "BoardLimits",
    "Components",
    "LayoutRules",
    "RunTables",
    "count_accessories",
    "count_boards",
    "count_by_reference",
    "fill_boards",
    "form_strips",
    "lay_out_by_reference",
    "lay_out_runs",
    "price_boards",
    "price_offcuts",
    "price_strips",
    "rearrange",
    "rearrange_by_reference",
]

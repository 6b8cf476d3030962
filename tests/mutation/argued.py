"""Survivors that change no result, each with its reason; by `Mutant.name`, so that a change of the code drops them."""

from __future__ import annotations

ARGUED: dict[str, str] = {
    "takeoff/moved_brackets.py _cause: 0 -> -1": "with nothing between the end distances both are the middle",
    "takeoff/arrays.py accessory_counts: 1 -> 0": "of one detail the rows that are its own are all rows",
    "takeoff/arrays.py accessory_counts: len(groups) > 1 -> len(groups) >= 1": "of one detail its rows are all rows",
    "ordering/truckloads.py dealt_out: 0 -> 1 (4)": "in which order goods without a weight are dealt: any fits",
    "ordering/supplier_comparison.py _product: 0 -> -1 (7)": "a supplier that is given for a product never costs less",
    "ordering/site_floor.py to_the_gram: 1 -> 0": "a whole number is one whichever it is likened to",
    "joints/layout.py laid_by_strips: 1 -> 0": "one group of boards is laid out alike by the long way",
    "boards/board_cut.py _in_board_order: 0 -> -1": "the part of full width comes first, all others are one strip",
    "boards/board_cut.py _in_board_order: 0 -> -1 (2)": "the part of full width comes first, all others are one strip",
    "boards/proof_over_joints.py with_bounds_over_joints: 0 -> -1": "all boards of a run are of one proof",
    "replanning/open_places.py _between: at < length -> at <= length": "a stretch of no length holds no place",
    "cutting/generation.py ColumnGeneration.__init__: 0 -> -1": "no bound is below 0, and the first prices set it",
    "cutting/waiting_bound.py _solve: model.opened()[1] <= WHOLE -> model.opened()[1] < WHOLE": (
        "what a linear program leaves over is never just the tolerance"
    ),
    "cutting/second_aim.py SecondAim.least_sum: min(least, proved) -> least": (
        "what is proved is never more than what is found: a guard for a proof that is wrong"
    ),
    "cutting/waiting_model.py WaitingModel._read_components: -1 -> 1": "what has more than one type has two",
    "cutting/attainable.py Attainable._least: 0 -> 1 (6)": "more numbers are looked at, none of them cheaper",
    "cutting/least_cost.py best_plan: several and demand.pieces <= MOST_PIECES_TIGHTER -> "
    "several or demand.pieces <= MOST_PIECES_TIGHTER": "more problems are solved besides, never at a higher cost",
    "cutting/exact.py fits_within: effort * share -> effort + share": "how much is searched, not what is found",
    "cutting/packing.py packed: cost <= bound -> cost < bound": "a plan at its bound is sought further, in vain",
    "cutting/waiting_model.py WaitingModel._price_shared: patterns.best > room * across + 1 -> "
    "patterns.best < room * across + 1": (
        "the best strip of a width is also the best with its widest piece, which is listed beside it"
    ),
    "checking/counting.py broken_rules_of_counts: 0 -> -1": "a size that is counted is neither none nor less than none",
}

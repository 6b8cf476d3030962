"""Survivors that change no result, each with its reason; by `Mutant.name`, so that a change of the code drops them."""

from __future__ import annotations

ARGUED: dict[str, str] = {
    "takeoff/moved_brackets.py _cause: 0 -> -1": "with nothing between the end distances both are the middle",
    "takeoff/bracket_choice.py _Program._codes: True -> False": "the lengths are compared just before",
    "takeoff/arrays.py accessory_counts: 1 -> 0": "of one detail the rows that are its own are all rows",
    "takeoff/arrays.py accessory_counts: len(groups) > 1 -> len(groups) >= 1": "of one detail its rows are all rows",
    "ordering/truckloads.py dealt_out: 0 -> 1": "the order in which goods without a weight are dealt: any of them fits",
    "ordering/supplier_comparison.py _product: 0 -> -1": "a supplier that is given for a product never costs less",
    "ordering/site_floor.py to_the_gram: 1 -> 0": "a whole number is one whichever it is likened to",
    "joints/layout.py laid_by_strips: 1 -> 0": "one group of boards is laid out alike by the long way",
    "boards/board_cut.py _in_board_order: 0 -> -1": "one part has the full width and comes first, all others one strip",
    "boards/proof_over_joints.py with_bounds_over_joints: 0 -> -1": "all boards of a run are of one proof",
    "replanning/open_places.py _between: at < length -> at <= length": "a stretch of no length holds no place",
    "cutting/generation.py ColumnGeneration.__init__: 0 -> -1": "no bound is below 0, and the first prices set it",
    "cutting/waiting_model.py WaitingModel._bound: True -> False": "all that is gone through together is equally long",
    "cutting/strip_program.py strips_formed: 0 -> -1": "the seed says in which order it is looked, not what is proved",
    "checking/counting.py broken_rules_of_counts: 0 -> -1": "a size that is counted is neither none nor less than none",
}

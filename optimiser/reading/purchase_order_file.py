"""The order that a revision replaces, from the purchase-order.json that was written with it."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from optimiser.errors.problems import Problem, ProblemList, UnusableInput
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.reading.json_text import load_json
from optimiser.reading.model_faults import drop_unknown_fields, report_lone_surrogates, tell_faults


def read_purchase_order(path: Path) -> PurchaseOrder:
    """The order in a purchase-order.json. Raises UnusableInput with every fault and its JSON path."""
    value = load_json(path)
    problems = ProblemList()
    if not isinstance(value, dict) or "truckloads" not in value:
        mend = "give the purchase-order.json that was written beside the order"
        raise UnusableInput([Problem(path.name, message="is no order that was sent", mend=mend)])
    report_lone_surrogates(value, problems)
    try:
        found = PurchaseOrder.model_validate(drop_unknown_fields(value, PurchaseOrder, "", problems))
    except ValidationError as error:
        tell_faults(error, problems, value)
        problems.raise_if_any()
        raise
    problems.raise_if_any()
    return found

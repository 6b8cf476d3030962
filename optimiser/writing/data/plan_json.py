"""`plan.json`: the whole plan as JSON, one row a line, so that two plans can be compared line by line."""

from __future__ import annotations

import json
from typing import Any

from optimiser.cutting.problem import CuttingResult
from optimiser.model.plan import Plan
from optimiser.model.purchase_order import PurchaseOrder


def plan_as_dict(plan: Plan) -> dict[str, Any]:
    """The plan as plain JSON values under the contract's names.

    Of the detail only the rules that the project gave are written: what is left out is a placeholder, and
    stays one when the plan is read back.
    """
    return plan.model_dump(mode="json", by_alias=True)


def plan_json(plan: Plan) -> str:
    """The text of `plan.json`, ending in a line feed; equal plans give equal text."""
    return rows_on_lines(plan_as_dict(plan)) + "\n"


def purchase_order_json(order: PurchaseOrder) -> str:
    """The text of `purchase-order.json`: what the next revision is made against; equal orders give equal text."""
    return rows_on_lines(order.model_dump(mode="json", by_alias=True)) + "\n"


def result_json(result: CuttingResult) -> str:
    """The text of a cutting result, one layout a line; fields that say nothing here are left out."""
    values = result.model_dump(mode="json", exclude_none=True)
    for row in (*values["layouts"], *values["left_over"]):
        if not row["code"]:
            del row["code"]
    for layout in values["layouts"]:
        del layout["cut_ready"]  # a bare problem knows no survey
        for strip in layout["strips"]:
            for piece in strip["pieces"]:
                if not piece["head_to_tail"]:
                    del piece["head_to_tail"]
    return rows_on_lines(values) + "\n"


def rows_on_lines(value: Any, indent: int = 0) -> str:
    """JSON with every row of a table (a dictionary in a list) on a line of its own, and the rest indented."""
    inner = " " * (indent + 1)
    if isinstance(value, list) and value and all(isinstance(item, (dict, list, str)) for item in value):
        rows = f",\n{inner}".join(json.dumps(item, ensure_ascii=False) for item in value)
        return f"[\n{inner}{rows}\n{' ' * indent}]"
    if isinstance(value, dict) and any(isinstance(item, (dict, list)) for item in value.values()):
        rows = f",\n{inner}".join(
            f"{json.dumps(key, ensure_ascii=False)}: {rows_on_lines(item, indent + 1)}"
            for key, item in value.items()
        )
        return f"{{\n{inner}{rows}\n{' ' * indent}}}"
    return json.dumps(value, ensure_ascii=False)

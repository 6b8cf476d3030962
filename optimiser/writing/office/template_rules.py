"""What the cells of a column take, as the rule by which a spreadsheet holds whoever fills it in to it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from optimiser.model.parties import ROLES
from optimiser.model.project import KINDS, WEEKDAYS
from optimiser.writing.office.template_texts import Values


def rule_of(takes: Values, names_of: Callable[[str], str]) -> dict[str, Any] | None:
    """The rule of data validation of what a column takes, as xlsxwriter has it; None where anything may be written.

    Drop-downs refer to the sheet where the names stand: `names_of` is the formula of a table's names.
    """
    rule: dict[str, Any] | None = None
    if takes in ("mm", "position"):
        least = 1 if takes == "mm" else 0
        rule = {
            "validate": "integer", "criteria": "between", "minimum": least, "maximum": 10_000_000,
            "error_title": "Whole millimetres", "error_message": "Write whole millimetres, such as 150.",
        }  # fmt: skip
    elif takes == "gap":  # 160/166 and ~159 are no whole numbers, and are right
        rule = {
            "validate": "integer", "criteria": "between", "minimum": 1, "maximum": 1000,
            "error_type": "information", "error_title": "Not whole millimetres",
            "error_message": "Whole millimetres such as 150; or 160/166 for top and bottom; or ~159 if nominal.",
        }  # fmt: skip
    elif takes == "count":
        rule = {
            "validate": "integer", "criteria": "between", "minimum": 0, "maximum": 1_000_000,
            "error_title": "A whole number", "error_message": "Write a whole number.",
        }  # fmt: skip
    elif takes == "money":
        rule = {
            "validate": "decimal", "criteria": ">=", "value": 0,
            "error_title": "An amount of money", "error_message": "Write an amount such as 212.00, without currency.",
        }  # fmt: skip
    elif takes == "kilograms":
        rule = {
            "validate": "decimal", "criteria": ">", "value": 0,
            "error_title": "A weight", "error_message": "Write the weight of one piece in kg, such as 14.4.",
        }  # fmt: skip
    elif takes == "rate":
        rule = {
            "validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 1,
            "error_title": "A rate", "error_message": "Write a rate between 0 and 1, such as 0.10, or 10 %.",
        }  # fmt: skip
    elif takes == "date":
        rule = {
            "validate": "date", "criteria": "between",
            "minimum": date(2020, 1, 1), "maximum": date(2100, 12, 31),
            "error_title": "A date", "error_message": "Write a date, such as 2027-03-01.",
        }  # fmt: skip
    elif takes == "kind":
        rule = {"validate": "list", "source": list(KINDS)}
    elif takes == "party":
        rule = {"validate": "list", "source": list(ROLES)}
    elif takes == "weekday":
        rule = {"validate": "list", "source": list(WEEKDAYS)}
    elif takes == "combine":
        rule = {"validate": "list", "source": ["none", "fewest_loads"]}
    elif takes == "basis":
        rule = {"validate": "list", "source": ["measured", "nominal"]}
    elif takes in ("level", "run", "joined run", "board", "boards", "product"):
        table = {"level": "levels", "run": "runs", "joined run": "runs"}.get(takes, "products")
        rule = {
            "validate": "list", "source": names_of(table),
            "error_title": "Not in the list",
            "error_message": f"Fill in the sheet {table} first, then choose from it.",
        }  # fmt: skip
        if takes == "boards":  # several codes in a cell are not in the list, and are right
            rule |= {
                "error_type": "information",
                "error_message": "Several boards are separated by spaces.",
            }
    return rule

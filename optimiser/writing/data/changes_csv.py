"""`difference.csv` for the supplier, `labels-to-change.csv` for the crew, `received.csv` and `job-state.csv` for the
office: from one plan to the next, and how the job stands between them."""

from __future__ import annotations

from datetime import date

from optimiser.model.money import NOTHING, Money
from optimiser.model.plan import Plan
from optimiser.replanning.changes import label_changes, order_changes
from optimiser.replanning.receiving import received_lines
from optimiser.replanning.standing import level_states
from optimiser.tables.changes import LABEL_CHANGES, LEVEL_STATES, ORDER_CHANGES, RECEIVED
from optimiser.tables.text import csv_of

DIFFERENCE, LABELS_TO_CHANGE = "difference.csv", "labels-to-change.csv"
RECEIVED_GOODS, JOB_STATE = "received.csv", "job-state.csv"


def difference_csv(
    after: Plan, before: Plan | None = None, today: date | None = None, change_cost: Money = NOTHING
) -> str:
    """What is ordered on top of what was, a row a product and level (RFC 4180: commas, CRLF); with the plan before
    also what day and price it had, and why it changed."""
    return csv_of(ORDER_CHANGES, order_changes(after, before, today=today, change_cost=change_cost))


def labels_to_change_csv(before: Plan, after: Plan) -> str:
    """A row a piece whose label is wrong now, or that has none yet (RFC 4180: commas, CRLF)."""
    return csv_of(LABEL_CHANGES, label_changes(before, after))


def received_csv(after: Plan) -> str:
    """Goods against order, a row a product and level."""
    return csv_of(RECEIVED, received_lines(after))


def job_state_csv(after: Plan) -> str:
    """How far each level is, a row a level."""
    return csv_of(LEVEL_STATES, level_states(after))

"""The names of the files that are written together."""

from __future__ import annotations

FILES = (
    "order.xlsx",
    "order.pdf",
    "order.csv",
    "office.xlsx",
    "deliveries.csv",
    "cutting-sheets.pdf",
    "order.ubl.xml",
    "purchase-order.json",
    "deliveries.ics",
    "levels.svg",
    "labels.pdf",
    "plan.json",
)
"""In the order in which they are moved into place: a new plan.json says that the others are new too."""

SURVEY_FILES = ("survey.csv", "re-measure.pdf")
"""What a questioned survey is written as."""

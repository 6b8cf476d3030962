"""Plans of the samples, each made once a process, with short searches."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from optimiser.model.plan import Plan, Staging
from optimiser.planning.plan import plan
from optimiser.reading import read_project
from tests.builders.short_searches import short_searches

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"


@cache
def sample_plan(name: str, staging: Staging = "whole") -> Plan:
    """The plan of a sample's workbook, such as 'tower'."""
    with short_searches():
        return plan(read_project(SAMPLES / name / f"{name}.xlsx"), staging=staging)

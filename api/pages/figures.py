"""Figures of a whole plan: reckoned once, when the plan is kept, and read by the pages after.

Decorate a function of a plan's index with `figure` and it is one: pages call it with the plan, or with its index. One
that was not reckoned with the others is reckoned for the first page that asks for it, and kept. A figure follows from
the plan alone: nothing that depends on the day, on who reads, on the record or on later revisions may be one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Generic, TypeVar, get_type_hints

from pydantic import TypeAdapter

from api.pages.kept_plan import KeptPlan
from optimiser.model.plan import Plan
from optimiser.studies.staging import StagingOption, staging_option
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.office.level_chart import level_chart_svg

T = TypeVar("T")


class Figure(Generic[T]):
    """What a function says of a plan, read where it is kept and reckoned where it is not."""

    def __init__(self, reckoned: Callable[[PlanIndex], T]) -> None:
        self.reckoned, self.name, self.__doc__ = reckoned, f"figure {reckoned.__name__}", reckoned.__doc__

    def __call__(self, of: Plan | PlanIndex) -> T:
        """The figure of a plan."""
        plan = of.plan if isinstance(of, PlanIndex) else of
        if isinstance(plan, KeptPlan):
            return self._form.validate_json(
                plan.figure(self.name, lambda whole: self.as_json(PlanIndex(whole)))
            )
        return self.reckoned(of if isinstance(of, PlanIndex) else PlanIndex(of))

    def as_json(self, index: PlanIndex) -> bytes:
        """The figure as it is kept."""
        return self._form.dump_json(self.reckoned(index))

    @cached_property
    def _form(self) -> TypeAdapter[T]:
        return TypeAdapter(get_type_hints(self.reckoned)["return"])


FIGURES: list[Figure[Any]] = []
"""All that there are in the modules that are imported."""


def get_ready() -> None:
    """Prepares the reading of every figure, so that nobody's first page waits for it."""
    for one in FIGURES:
        one._form.rebuild()


def figure(reckoned: Callable[[PlanIndex], T]) -> Figure[T]:
    """Has what a function says of a plan reckoned when the plan is kept. Its type must go into JSON and back."""
    made = Figure(reckoned)
    FIGURES.append(made)
    return made


@figure
def piece_count(index: PlanIndex) -> int:
    """How many pieces a plan has."""
    return len(index.plan.pieces)


@figure
def forecast_levels_of(index: PlanIndex) -> frozenset[str]:
    """The levels that are not wholly measured."""
    return index.forecast_levels


@figure
def a_piece_of(index: PlanIndex) -> str:
    """The name of a plan's first piece; '' where it has none."""
    return index.plan.pieces[0].id if index.plan.pieces else ""


@figure
def staged(index: PlanIndex) -> StagingOption:
    """A plan's numbers beside those of other stagings."""
    return staging_option(index.plan)


@figure
def level_chart(index: PlanIndex) -> str:
    """The boards of each delivery as a chart, as SVG."""
    return level_chart_svg(index.plan)


@dataclass(frozen=True)
class GapRange:
    """A survey's gaps in mm: the least, the middle one and the greatest; and whether any is nominal."""

    least: int
    middle: int
    greatest: int
    nominal: bool


@figure
def gap_range(index: PlanIndex) -> GapRange:
    """What gaps a plan's survey has."""
    gaps = sorted(gap.gap_mm for gap in index.plan.project.gaps)
    nominal = any(gap.basis == "nominal" for gap in index.plan.project.gaps)
    return GapRange(gaps[0], gaps[len(gaps) // 2], gaps[-1], nominal)

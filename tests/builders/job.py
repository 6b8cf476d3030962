"""A job on site, played week by week: what an invented crew and supplier write down."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Project
from optimiser.model.record import Event, Record

STARTED = datetime(2027, 3, 1, 7, 0)


@dataclass
class JobOnSite:
    """`events` so far; every one an hour later than the one before, with an id of its own."""

    events: list[Event] = field(default_factory=list)

    @property
    def record(self) -> Record:
        return Record(events=tuple(self.events))

    def write(self, event: str, **fields: Any) -> Event:
        """One more event on the record."""
        number = len(self.events) + 1
        made = Event(
            at=STARTED + timedelta(hours=number), event=event, id=f"event-{number}", by="crew", **fields
        )
        self.events.append(made)
        return made

    def order_all(self, plan: Plan) -> None:
        """Everything that the plan orders is ordered."""
        for line in plan.order.lines:
            if line.packs:
                self.write("ordered", code=line.code, quantity=line.packs * line.per_pack, level=line.level)

    def deliver(self, plan: Plan, level: str, *, short: int = 0) -> None:
        """A level's delivery arrives, of each product `short` units too few."""
        for line in plan.order.lines:
            if line.packs and line.level == level and line.packs * line.per_pack > short:
                quantity = line.packs * line.per_pack - short
                self.write("delivered", code=line.code, quantity=quantity, level=level)

    def cut_and_fit(self, pieces: Iterable[PlannedPiece]) -> None:
        """Each of the pieces is cut and fitted."""
        for piece in pieces:
            self.write("cut", piece=piece.id)
            self.write("fitted", piece=piece.id)


def of_level(plan: Plan, level: str) -> list[PlannedPiece]:
    """The pieces of a level that are not done."""
    return [piece for piece in plan.pieces if piece.level == level and not piece.done]


def measured_again(survey: Project, level: str, random_source: random.Random, most_mm: int = 4) -> Project:
    """The survey with every gap of a level measured again, up to so many mm wider or narrower."""
    runs = {run.run for run in survey.runs if run.level == level}
    gaps = tuple(
        gap.model_copy(update={"gap_mm": gap.gap_mm + random_source.randint(-most_mm, most_mm)})
        if gap.run in runs
        else gap
        for gap in survey.gaps
    )
    return survey.model_copy(update={"gaps": gaps})

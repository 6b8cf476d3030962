"""What a supplier answered to an order, as events for the record of the job, with what a person should look at."""

from __future__ import annotations

from datetime import date
from typing import Literal

from optimiser.model.immutable import Immutable
from optimiser.model.record import Event


class Answer(Immutable):
    """A supplier's document: its name, its day, the events that follow from it, and `remarks` on what is other than it
    was ordered."""

    kind: Literal["OrderResponse", "DespatchAdvice"]
    document: str
    issued_on: date
    events: tuple[Event, ...]
    remarks: tuple[str, ...]

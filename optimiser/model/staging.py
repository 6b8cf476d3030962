"""When a piece is needed and when board arrives: two counts of the same deliveries, each a type of its own.

The levels name their delivery by a sequence number of the user's own, 10, 20, 30 (`DeliverySequence`): that is what a
plan shows and what arrives. The solver counts stages 1, 2, 3, ... (`Stage`), so that carrying counts deliveries: the
difference of two stages is how many deliveries a piece waits. `Building` knows both and turns one into the other.
"""

from __future__ import annotations

from typing import NewType

Stage = NewType("Stage", int)
"""When a piece is needed, as the solver counts: 1 for the first delivery of the building."""

DeliverySequence = NewType("DeliverySequence", int)
"""The sequence number that the `levels` table gives a delivery; levels of equal numbers are delivered together."""

FIRST_STAGE = Stage(1)

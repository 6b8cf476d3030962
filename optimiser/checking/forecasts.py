"""Nominal levels are a forecast: nothing of them is cut ahead, and no measured level relies on their boards."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.checking.building import Building


def broken_rules_of_forecasts(building: Building) -> Iterator[str]:
    """Every layout that cuts a piece of a nominal level before its own delivery, or shares its board.

    A level is nominal as long as any of its pieces rests on a nominal gap.
    """
    nominal = {piece.level for piece in building.plan.pieces if piece.basis == "nominal"}
    if not nominal:
        return
    for number, layout in enumerate(building.plan.layouts, start=1):
        cut = [
            building.pieces[piece.id]
            for strip in layout.strips
            for piece in strip.pieces
            if piece.id in building.pieces
        ]
        forecast = [piece for piece in cut if piece.level in nominal]
        for piece in forecast:
            sequence = building.sequence_of(piece)
            if sequence is not None and sequence > layout.stage:
                yield (
                    f"layout {number}, piece {piece.id}: level {piece.level} is nominal, so nothing of it is"
                    f" cut before its own delivery, sequence {sequence}, but its {layout.stock} is cut in stage"
                    f" {layout.stage}"
                )
        if forecast and len(forecast) < len(cut):
            measured = next(piece for piece in cut if piece.level not in nominal)
            yield (
                f"layout {number}, piece {measured.id}: level {measured.level} is measured, but relies on a"
                f" board of the nominal level {forecast[0].level}, which its survey will change"
            )

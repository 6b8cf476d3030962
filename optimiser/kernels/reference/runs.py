"""Whole runs into rows (`joints.c`): stretch by stretch, the layout of least cost."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.kernels.reference.joint_layout import OUT_OF_RANGE, PIECE, TAPERED, Row, WidestWindows, rows_of
from optimiser.kernels.reference.joint_prices import PiecePrices, cheapest_layout
from optimiser.kernels.reference.joint_values import INFINITE, Stretch, stretches_of
from optimiser.kernels.reference.run_to_lay_out import Run


def lay_out_run(run: Run, prices: PiecePrices | None = None) -> Iterator[Row]:
    """A run's rows in order of position; they tile it. Prices do not count where the last resort is needed."""
    for start, end, within in stretches_of(run):
        if within:
            yield from _lay_out_stretch(run, start, end, prices)
        else:
            yield Row(OUT_OF_RANGE, start, end, run.widths.span(start, end), 0, 0)


def _lay_out_stretch(run: Run, start: int, end: int, prices: PiecePrices | None) -> Iterator[Row]:
    if end - start < run.rules.piece_min:
        row = _one_short_piece(run, start, end)
        if row is not None:
            yield row
            return
    stretch = Stretch(run, start, end, last_resort=False)
    if stretch.value(start) >= INFINITE:
        stretch = Stretch(run, start, end, last_resort=True)
    chosen = WidestWindows(stretch).chosen()
    if prices is not None and not stretch.last_resort:
        chosen = cheapest_layout(stretch, prices, chosen)
    yield from rows_of(chosen)


def _one_short_piece(run: Run, start: int, end: int) -> Row | None:
    """One piece over a stretch that is shorter than piece_min, where a board takes it."""
    span, widest = run.widths.span(start, end), run.widest_for(end - start)
    if span.width_min <= span.width_max:
        return (
            Row(PIECE, start, end, span, span.width_min, span.width_min) if span.width_min <= widest else None
        )
    widths = run.taper(start, end)
    if widths is None:
        return None
    span = span._replace(width_min=max(widths), width_max=max(widths))
    return Row(TAPERED, start, end, span, *widths)

"""A piece of board in its place."""

from __future__ import annotations

from collections.abc import Collection

from optimiser.tables.columns import Column, Columns

_ON_THE_SHEET: Columns = (
    Column("id", "Piece", width=16),
    Column("level", "Level", width=11),
    Column("run", "Run", width=14),
    Column("from_mm", "From", "mm", 9, "mm", what="from the run's start"),
    Column("to_mm", "To", "mm", 9, "mm", what="from the run's start"),
    Column("length_mm", "Length", "mm", 9, "mm", what="along the slab edge"),
    Column("gap_min_mm", "Gap from", "mm", 9, "mm", what="the least gap over its span"),
    Column("gap_max_mm", "Gap to", "mm", 9, "mm", what="the greatest gap over its span"),
    Column("cut_width_start_mm", "Cut width start", "mm", 10, "mm", what="across the gap"),
    Column("cut_width_end_mm", "Cut width end", "mm", 10, "mm", what="differs from the start's if tapered"),
    Column("basis", "Gaps", width=10, what="measured, or nominal: then it is a forecast and not to be cut"),
    Column("bracket", "Bracket", width=13, what="its size; none where no size on offer fits"),
    Column(
        "brackets_at_mm",
        "Brackets at mm (from the piece's start)",
        "numbers",
        22,
        what="mm from its own start",
    ),
    Column(
        "notches_at_mm", "Notches at mm (from the piece's start)", "numbers", 22, what="mm from its own start"
    ),
    Column("notch_width_mm", "Notch width", "mm", 9, "mm", what="along the edge; none where not measured"),
    Column("notch_depth_mm", "Notch depth", "mm", 9, "mm", what="into the gap; none where not measured"),
)
"""What every table of pieces begins with."""

PIECES: Columns = (
    *_ON_THE_SHEET,
    Column("width_min_mm", "Least width", "mm", 9, "mm", what="of the compression window"),
    Column("width_max_mm", "Greatest width", "mm", 9, "mm", what="of the compression window"),
    Column("boards", "Boards", "texts", 14, joined=" ", what="codes that it may be cut from"),
    Column("mullions_at_mm", "Mullions at mm", "numbers", 16, what="mm from the run's start"),
    Column("tapered", "Tapered", "flag", 8),
    Column(
        "notch_words",
        "Notches (width x depth)",
        width=22,
        unit="mm",
        what="middles from its own start, width by depth",
    ),
    Column("status", "Status", width=10, what="planned, cut or fitted"),
)


def pieces_on_the_sheet(forecast: Collection[str]) -> Columns:
    """What the workbook's sheet of pieces shows; the pieces of the levels in `forecast` are not ready to cut."""
    ready = Column(
        "cut_ready", "Ready to cut", "flag", 9, what="no: its level has nominal gaps",
        value=lambda piece: piece.level not in forecast,
    )  # fmt: skip
    before = [column.name for column in _ON_THE_SHEET].index("basis") + 1
    return (*_ON_THE_SHEET[:before], ready, *_ON_THE_SHEET[before:])

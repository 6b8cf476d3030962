"""Labels to stick on pieces as they are cut, each with a QR code of the piece's id.

The grids are those of plain sheets of labels: A4 with 3 x 7 of 63.5 x 38.1 mm, Letter with 3 x 10 of 66.7 x
25.4 mm. They come in the order of cutting, so that a board's labels lie together.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from optimiser.plan import Plan, PlannedPiece
from optimiser.writing.board_patterns import patterns_by_level, places_of_pieces
from optimiser.writing.pdf_pages import Pages, pdf_of
from optimiser.writing.plan_index import PlanIndex
from optimiser.writing.print_faces import printable
from optimiser.writing.shapes import (
    POINTS_PER_MM,
    Drawing,
    Group,
    Label,
    Modules,
    rectangle,
    shortened,
    text_width,
)
from optimiser.writing.sheet_frame import frame_of, levels_to_print

_LONGEST_QR = 400  # characters; a longer id is no id


class Grid(NamedTuple):
    """A sheet of labels: sizes in points."""

    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    column_gap: float


def _grid(paper: str) -> Grid:
    mm = POINTS_PER_MM
    if paper.upper() == "A4":
        return Grid(3, 7, 63.5 * mm, 38.1 * mm, 7.2 * mm, 15.15 * mm, 2.54 * mm)
    return Grid(3, 10, 66.675 * mm, 25.4 * mm, 4.76 * mm, 12.7 * mm, 3.175 * mm)


def qr_rows(text: str) -> tuple[bytes, ...]:
    """A QR code (ISO/IEC 18004, error correction M) of the text, row by row, a byte a module, without quiet zone.

    The mask is fixed: any of the eight is valid, and trying them all takes five times as long.
    """
    import segno

    code = segno.make_qr(text[:_LONGEST_QR], error="m", mask=3, boost_error=False)
    return tuple(bytes(row) for row in code.matrix)


def add_labels(
    pages: Pages,
    index: PlanIndex,
    paper: str,
    pieces: Sequence[PlannedPiece],
    places: Mapping[str, tuple[str, int, str]],
) -> None:
    """Sheets of labels for pieces, from the upper left, row by row."""
    grid = _grid(paper)
    a_page = grid.columns * grid.rows
    for number, piece in enumerate(pieces):
        if number % a_page == 0:
            pages.new_page()
        row, column = divmod(number % a_page, grid.columns)
        x = grid.left + column * (grid.width + grid.column_gap)
        y = pages.height - grid.top - (row + 1) * grid.height
        pages.add(Group(x, y, _label(index, piece, grid, places.get(piece.id)).shapes))
    pages.y = 0


def _label(index: PlanIndex, piece: PlannedPiece, grid: Grid, place: tuple[str, int, str] | None) -> Drawing:
    """One label: the id large, then where it goes, how it was cut, its bracket."""
    drawing = Drawing(grid.width, grid.height)
    roomy = grid.height > 90
    side = 66.0 if roomy else 52.0
    drawing.add(rectangle(0, 0, grid.width, grid.height, "rule"))
    drawing.add(
        Modules(
            grid.width - side - 13, (grid.height - side) / 2 - (6 if roomy else 4), side, qr_rows(piece.id)
        )
    )
    name, room = index.text(piece.id), grid.width - 16
    size = next((size for size in (14.0, 12.0, 10.0, 9.0, 8.0) if text_width(name, size, True) <= room), 8.0)
    top = grid.height - 6 - size * 0.8
    drawing.add(Label(8, top, shortened(name, room, size, True), size, "start", True))
    width = f"{piece.cut_width_start_mm}"
    if piece.tapered:
        width = f"{width} > {piece.cut_width_end_mm}"
    room = grid.width - side - 26
    lines = [
        (f"level {index.text(piece.level)}", False),
        (f"run {index.text(piece.run)}", False),
        (f"{piece.from_mm} to {piece.to_mm}", True),
        (f"cut {width}", True),
        (f"bracket {index.text(piece.bracket)}" if piece.bracket else "bracket: none fits", False),
    ]
    if roomy and piece.notches_at_mm:
        lines.append((f"notch {', '.join(str(at) for at in piece.notches_at_mm)}", False))
    if roomy and place:
        lines.append((f"board {place[1]} {place[2]}", False))
    leading = (top - 7) / len(lines)
    leading = min(11.0, leading)
    for number, (words, bold) in enumerate(lines):
        text_size = min(8.5, leading * 0.9)
        drawing.add(
            Label(
                8,
                top - 3 - (number + 1) * leading + 1,
                shortened(words, room, text_size, bold),
                text_size,
                "start",
                bold,
            )
        )
    return drawing


def labels_in_cutting_order(
    index: PlanIndex, places: Mapping[str, tuple[str, int, str]], levels: Collection[str]
) -> list[PlannedPiece]:
    """The pieces as they come off the boards of these levels; `places` is in that order."""
    return [
        index.pieces[piece] for piece, place in places.items() if place[0] in levels and piece in index.pieces
    ]


def labels_pdf(
    plan: Plan, paper: str = "A4", *, levels: Sequence[str] | None = None, revision: str = ""
) -> bytes:
    """The labels alone, for a printer that holds sheets of labels.

    `levels`: those whose boards are cut (None: as many as one file holds, in delivery order). Raises ValueError
    for an unknown paper or level.
    """
    pages = Pages(paper)
    index = PlanIndex(plan, printable)
    printed, _ = levels_to_print(index, levels)
    places = places_of_pieces(patterns_by_level(index))
    pages.section = ""
    add_labels(pages, index, paper, labels_in_cutting_order(index, places, printed), places)
    if not pages.sheets:
        pages.new_page("No pieces to label")
    return pdf_of(frame_of(index, "Labels", revision), [pages])

"""Labels to stick on pieces and remainders as they are cut, each with a QR code of its id or name, or of the address
of the page that shows it where a service has one.

The grids are those of plain sheets of labels: A4 with 3 x 7 of 63.5 x 38.1 mm, Letter with 3 x 10 of 66.7 x
25.4 mm. They come in the order of cutting, so that a board's labels lie together.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple
from urllib.parse import quote

from optimiser.model.plan import Plan, PlannedPiece
from optimiser.model.remainder import Remainder
from optimiser.writing.crew.board_patterns import CutAt, DeliveryCuts, cuts_by_delivery, places_of_pieces
from optimiser.writing.drawing.pdf_pages import Pages, pdf_of
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.drawing.shapes import (
    POINTS_PER_MM,
    Drawing,
    Group,
    Label,
    Modules,
    rectangle,
    shortened,
    text_width,
)
from optimiser.writing.drawing.sheet_frame import ASK_FOR_THEM, WITHHELD, frame_of, levels_to_print
from optimiser.writing.words import counted

_ROOMY = 90.0  # points of height from which a label holds seven lines
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


def qr_text(name: str, address: str) -> str:
    """What the QR code of a label holds: the name, or behind `address` the address of the page that shows it.

    >>> qr_text("L01-N 3", "https://orders.example/site/7/labels/")
    'https://orders.example/site/7/labels/L01-N%203'
    """
    return address + quote(name, safe="") if address else name


def add_labels(
    pages: Pages,
    index: PlanIndex,
    paper: str,
    labelled: Sequence[PlannedPiece | Remainder],
    places: Mapping[str, CutAt],
    address: str = "",
) -> None:
    """Sheets of labels for pieces and remainders, from the upper left, row by row; `address` as of `qr_text`."""
    grid = _grid(paper)
    a_page = grid.columns * grid.rows
    for number, item in enumerate(labelled):
        if number % a_page == 0:
            pages.new_page()
        row, column = divmod(number % a_page, grid.columns)
        x = grid.left + column * (grid.width + grid.column_gap)
        y = pages.height - grid.top - (row + 1) * grid.height
        if isinstance(item, Remainder):
            label = _remainder_label(index, item, grid, address)
        else:
            label = _piece_label(index, item, grid, places.get(item.id), address)
        pages.add(Group(x, y, label.shapes))
    pages.y = 0


Lines = list[tuple[str, bool]]
"""Words and whether they are bold."""


def _piece_label(
    index: PlanIndex, piece: PlannedPiece, grid: Grid, place: CutAt | None, address: str
) -> Drawing:
    """One label: the id large, then where it goes, how it was cut, its bracket."""
    width = f"{piece.cut_width_start_mm}"
    if piece.tapered:
        width = f"{width} > {piece.cut_width_end_mm}"
    cut: Lines = [(f"cut {width}", True)]
    if index.is_forecast(piece.id):
        cut = [("NOMINAL GAP", True), ("DO NOT CUT", True)]
    roomy = grid.height > _ROOMY
    notches = _notch_lines(piece)
    level, run = f"level {index.text(piece.level)}", f"run {index.text(piece.run)}"
    lines: Lines = [
        *([(level, False), (run, False)] if roomy or not notches else [(f"{level}, {run}", False)]),
        (f"{piece.from_mm} to {piece.to_mm}", True),
        *cut,
        (f"bracket {index.text(piece.bracket)}" if piece.bracket else "bracket: none fits", False),
    ]
    lines += notches
    if roomy and place:
        lines.append((f"from {place.name} {place.place}", False))
    return _label(grid, index.text(piece.id), qr_text(piece.id, address), lines)


def _notch_lines(piece: PlannedPiece) -> Lines:
    """Where the piece is notched, and how wide and deep: a line each, so that neither is cut short."""
    lines: Lines = []
    if piece.notches_at_mm:
        lines.append((f"notch at {', '.join(str(at) for at in piece.notches_at_mm)}", False))
    if size := next((notch.size for notch in piece.notches if notch.size), ""):
        lines.append((f"notch {size}{' deep' if ' x ' in size else ''}", False))
    return lines


def _remainder_label(index: PlanIndex, part: Remainder, grid: Grid, address: str) -> Drawing:
    """A remainder's label, in a heavy frame: its name large, then its size and the level it waits for."""
    lines: Lines = [
        ("REMAINDER", False),
        (part.size, True) if part.waits_for not in index.forecast_levels else ("NOMINAL: DO NOT CUT", True),
        (f"waits for {index.text(part.waits_for)}", True),
        (f"{index.text(part.code)}, {counted(part.pieces, 'piece')}", False),
        (f"from {part.cut_from}", False),
        (f"kept with {index.text(part.level)}", False),
    ]
    drawing = _label(grid, part.name, qr_text(part.name, address), lines)
    drawing.add(rectangle(3, 3, grid.width - 6, grid.height - 6, "stock"))
    return drawing


def _label(grid: Grid, name: str, code: str, lines: Lines) -> Drawing:
    """A name, as large as there is room, lines below it, and a QR code of `code` at the right."""
    drawing = Drawing(grid.width, grid.height)
    roomy = grid.height > _ROOMY
    side = 66.0 if roomy else 52.0
    drawing.add(rectangle(0, 0, grid.width, grid.height, "rule"))
    drawing.add(
        Modules(grid.width - side - 13, (grid.height - side) / 2 - (6 if roomy else 4), side, qr_rows(code))
    )
    room = grid.width - 16
    size = next((size for size in (14.0, 12.0, 10.0, 9.0, 8.0) if text_width(name, size, True) <= room), 8.0)
    top = grid.height - 6 - size * 0.8
    drawing.add(Label(8, top, shortened(name, room, size, True), size, "start", True))
    room = grid.width - side - 26
    leading = min(11.0, (top - 7) / len(lines))
    for number, (words, bold) in enumerate(lines):
        text_size = min(8.5, leading * 0.9)
        y = top - 3 - (number + 1) * leading + 1
        drawing.add(Label(8, y, shortened(words, room, text_size, bold), text_size, "start", bold))
    return drawing


def labels_in_cutting_order(
    index: PlanIndex, deliveries: Mapping[int, DeliveryCuts], stages: Collection[int], with_nominal: bool
) -> list[PlannedPiece | Remainder]:
    """The pieces and remainders as they come off the boards with these deliveries; of what is cut from one board
    its pieces first. Pieces of nominal levels only `with_nominal`."""
    remainders = {part.name: part for part in index.sequence.remainders}
    found: list[PlannedPiece | Remainder] = []
    for stage, delivery in deliveries.items():
        for cuts in delivery.in_order if stage in stages else ():
            if cuts.ready or with_nominal:
                found += [index.pieces[piece.id] for piece in cuts.pieces if piece.id in index.pieces]
                found += [remainders[rest.name] for rest in cuts.stays]
    return found


def labels_pdf(
    plan: Plan,
    paper: str = "A4",
    *,
    levels: Sequence[str] | None = None,
    revision: str = "",
    with_nominal: bool = False,
    address: str = "",
) -> bytes:
    """The labels alone, for a printer that holds sheets of labels; `address` as of `qr_text`.

    `levels`: those whose deliveries are cut (None: as many as one file holds, in delivery order). Labels of nominal
    levels are withheld, or say so on each (`with_nominal`). Raises ValueError for an unknown paper or level.
    """
    pages = Pages(paper)
    index = PlanIndex(plan, printable)
    printed, _ = levels_to_print(index, levels)
    deliveries = cuts_by_delivery(index)
    pages.section = ""
    labelled = labels_in_cutting_order(index, deliveries, index.stages_of(printed), with_nominal)
    add_labels(pages, index, paper, labelled, places_of_pieces(deliveries), address)
    if not pages.sheets:
        pages.new_page("No pieces to label")
        if not with_nominal and not index.forecast_levels.isdisjoint(printed):
            withheld = index.names_in_text(index.forecast_levels.intersection(printed))
            pages.words(f"{WITHHELD} {withheld}. {ASK_FOR_THEM}", 10)
    return pdf_of(frame_of(index, "Labels", revision), [pages])

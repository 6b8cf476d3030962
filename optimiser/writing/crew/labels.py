"""Labels to stick on pieces and remainders as they are cut, each with a QR code of its id or name, or of the address
of the page that shows it where a service has one.

The grids are those of plain sheets of labels: A4 with 3 x 7 of 63.5 x 38.1 mm, Letter with 2 x 7 of 101.6 x
33.9 mm. They come in the order of cutting, so that a board's labels lie together, or run by run as they are fitted.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Literal, NamedTuple
from urllib.parse import quote

from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.products import Board
from optimiser.model.remainder import Remainder
from optimiser.writing.crew.board_patterns import CutAt, DeliveryCuts, cuts_by_delivery, places_of_pieces
from optimiser.writing.drawing.pdf_file import pdf_of
from optimiser.writing.drawing.pdf_pages import Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.drawing.shapes import (
    POINTS_PER_MM,
    SMALLEST_TEXT,
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

LabelOrder = Literal["cutting", "run"]
"""In the order of cutting, a board's labels together; or run by run, in fitting order."""

_LONGEST_QR = 400  # characters; a longer id is no id
_LEADING = 10.4


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
    return Grid(2, 7, 101.6 * mm, 33.87 * mm, 3.96 * mm, 21.2 * mm, 4.78 * mm)


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
    revision: str = "",
) -> None:
    """Sheets of labels for pieces and remainders, from the upper left, row by row; `address` as of `qr_text`,
    `revision` of the job."""
    grid = _grid(paper)
    a_page = grid.columns * grid.rows
    job = _job_words(index, revision)
    for number, item in enumerate(labelled):
        if number % a_page == 0:
            pages.new_page()
        row, column = divmod(number % a_page, grid.columns)
        x = grid.left + column * (grid.width + grid.column_gap)
        y = pages.height - grid.top - (row + 1) * grid.height
        if isinstance(item, Remainder):
            label = _remainder_label(index, item, grid, address, job)
        else:
            label = _piece_label(index, item, grid, places.get(item.id), address, job)
        pages.add(Group(x, y, label.shapes))
    pages.y = 0


class Line(NamedTuple):
    """A line of a label."""

    words: str
    bold: bool = False


def _job_words(index: PlanIndex, revision: str) -> str:
    """'SAMPLE-TOWER rev. 2': which job and revision a label belongs to."""
    heading = index.plan.project.project
    job = index.text(heading.order_reference or heading.name) or "no reference"
    return f"{job} rev. {index.text(revision)}" if revision else job


def _board_words(index: PlanIndex, code: str) -> str:
    """'B-120, 75 thick': a board and its thickness, where its product states it."""
    product = index.products.get(code)
    thick = product.thickness_mm if isinstance(product, Board) else None
    return index.text(code) + (f", {thick} thick" if thick else "")


def _piece_label(
    index: PlanIndex, piece: PlannedPiece, grid: Grid, place: CutAt | None, address: str, job: str
) -> Drawing:
    """One label: the id large, then level and run, its place, its size, its board, its bracket, its notches."""
    width = f"{piece.cut_width_start_mm}"
    if piece.tapered:
        width = f"{width} > {piece.cut_width_end_mm}"
    if index.is_forecast(piece.id):
        size = [Line("NOMINAL GAP", True), Line("DO NOT CUT", True)]
    else:
        size = [Line(f"{piece.length_mm} x {width}", True)]
    board = index.board_of_piece.get(piece.id) or (piece.boards[0] if piece.boards else "")
    lines = [
        Line(f"{index.text(piece.level)}, run {index.text(piece.run)}"),
        Line(f"at {piece.from_mm} to {piece.to_mm}", True),
        *size,
        Line(_board_words(index, board)) if board else Line("board: as ordered"),
        Line(f"bracket {index.text(piece.bracket)}" if piece.bracket else "bracket: none fits"),
    ]
    if piece.notches_at_mm:
        lines.append(Line(f"notch {piece.notch_words}"))
    if place:
        lines.append(Line(f"from {place.name} {place.place}"))
    return _label(grid, index.text(piece.id), qr_text(piece.id, address), lines, job)


def _remainder_label(index: PlanIndex, part: Remainder, grid: Grid, address: str, job: str) -> Drawing:
    """A remainder's label, in a heavy frame: its name large, then its size and the level it waits for."""
    nominal = part.waits_for in index.forecast_levels
    lines = [
        Line("REMAINDER", True),
        Line("NOMINAL: DO NOT CUT" if nominal else part.size, True),
        Line(f"waits for {index.text(part.waits_for)}", True),
        Line(f"{_board_words(index, part.code)}"),
        Line(f"{counted(part.pieces, 'piece')}, from {part.cut_from}"),
        Line(f"kept with {index.text(part.level)}"),
    ]
    drawing = _label(grid, part.name, qr_text(part.name, address), lines, job)
    drawing.add(rectangle(3, 3, grid.width - 6, grid.height - 6, "stock"))
    return drawing


def _label(grid: Grid, name: str, code: str, lines: Sequence[Line], job: str) -> Drawing:
    """A name, as large as there is room, lines below it, the job at the foot, and a QR code of `code` at the right.

    On a wide label the lines stand in two columns. What is longer than there is room is shortened in its middle.
    """
    drawing = Drawing(grid.width, grid.height)
    drawing.add(rectangle(0, 0, grid.width, grid.height, "rule"))
    side = 60.0
    drawing.add(Modules(grid.width - side - 9, grid.height - side - 27, side, qr_rows(code)))
    room = grid.width - 16
    size = next(
        (size for size in (14.0, 13.0, 12.0, 11.0, 10.0) if text_width(name, size, True) <= room), 9.0
    )
    top = grid.height - 7 - size * 0.75
    drawing.add(Label(8, top, shortened(name, room, size, True), size, "start", True))
    columns = 2 if grid.width > 250 else 1
    wide = (grid.width - side - 20) / columns
    a_column = -(-len(lines) // columns)
    leading = min(12.0, (top - 17) / max(1, a_column))
    size = max(SMALLEST_TEXT, min(10.0, leading - 1.4))
    for number, line in enumerate(lines):
        column, row = divmod(number, a_column)
        room = wide - 6
        fit = size if text_width(line.words, size, line.bold) <= room else SMALLEST_TEXT
        drawing.add(
            Label(
                8 + column * wide, top - 2 - (row + 1) * leading + 1,
                shortened(line.words, room, fit, line.bold), fit, "start", line.bold,
            )
        )  # fmt: skip
    drawing.add(Label(8, 6, shortened(job, grid.width - 16, SMALLEST_TEXT), SMALLEST_TEXT))
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


def labels_by_run(
    index: PlanIndex, labelled: Sequence[PlannedPiece | Remainder]
) -> list[PlannedPiece | Remainder]:
    """The same labels, those of pieces by level, run and position, each level's remainders after its pieces."""
    runs = {run.run: place for place, run in enumerate(index.plan.project.runs)}

    def place(item: PlannedPiece | Remainder) -> tuple[int, bool, int, int]:
        level = index.level_place.get(item.level, 0)
        if isinstance(item, Remainder):
            return level, True, 0, 0
        return level, False, runs.get(item.run, 0), item.from_mm

    return sorted(labelled, key=place)


def labels_pdf(
    plan: Plan,
    paper: str = "A4",
    *,
    levels: Sequence[str] | None = None,
    revision: str = "",
    with_nominal: bool = False,
    address: str = "",
    order: LabelOrder = "cutting",
) -> bytes:
    """The labels, for a printer that holds sheets of labels; `address` as of `qr_text`.

    `levels`: those whose deliveries are cut (None: as many as one file holds, in delivery order). Labels of nominal
    levels are withheld, or say so on each (`with_nominal`). `order` is that of cutting or run by run. Raises ValueError
    for an unknown paper, level or order.
    """
    if order not in ("cutting", "run"):
        raise ValueError(f"labels in the order {order!r} are not known: choose cutting or run")
    pages = Pages(paper)
    index = PlanIndex(plan, printable)
    printed, _ = levels_to_print(index, levels)
    deliveries = cuts_by_delivery(index)
    pages.section = ""
    labelled = labels_in_cutting_order(index, deliveries, index.stages_of(printed), with_nominal)
    if order == "run":
        labelled = labels_by_run(index, labelled)
    add_labels(pages, index, paper, labelled, places_of_pieces(deliveries), address, revision)
    if not pages.sheets:
        pages.new_page("No pieces to label")
        if not with_nominal and not index.forecast_levels.isdisjoint(printed):
            withheld = index.names_in_text(index.forecast_levels.intersection(printed))
            pages.words(f"{WITHHELD} {withheld}. {ASK_FOR_THEM}", 10)
    return pdf_of(frame_of(index, "Labels", revision), [pages])

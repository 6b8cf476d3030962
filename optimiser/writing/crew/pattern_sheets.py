"""The sheets that boards are cut from: each pattern drawn once, its cuts in order, its pieces board by board."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from optimiser.model.plan import notches_in_words
from optimiser.writing.crew.board_patterns import Pattern
from optimiser.writing.drawing.board_cuts import BoardCuts, Cut, PlacedPiece
from optimiser.writing.drawing.boards import board_drawing, smallest_strip_points
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.shapes import Drawing, Label, Line, labels_of, shortened, text_width, wrapped

_TEXT = 8.5
_LEADING = 11.0
_LIST_WIDTH = 168.0
_HALF_HEIGHT = 272.0
_LOW_HEIGHT = 165.0
_ROOMY_STRIP = 18.0  # a strip drawn so high has room for a line of larger words
_TALLEST = 430.0  # a drawing on a page of its own
_TALLEST_LIST = 260.0
_COLUMNS = 3
_FEW_ROWS = 6  # a table no longer than this is not set in blocks
_LEGIBLE_STRIP = 11.0  # a strip drawn lower than this has no room for its words


def add_pattern(pages: Pages, pattern: Pattern) -> None:
    """A pattern on half a page where that is legible, else on a page of its own."""
    cuts = pattern.cuts
    beside = pages.content_width - _LIST_WIDTH - 10
    texts = _list_of(cuts, pattern)
    lines = [(line, bold) for text, bold in texts for line in wrapped(text, _LIST_WIDTH, _TEXT, bold)]
    as_words = False
    height = _height_of(cuts, beside, len(lines) * _LEADING)
    half_fits = (
        smallest_strip_points(cuts, beside, _HALF_HEIGHT) >= _LEGIBLE_STRIP
        and len(lines) * _LEADING <= _HALF_HEIGHT + 10
    )
    one = pattern.count == 1
    if half_fits:
        drawing = board_drawing(cuts, beside, height, ids=one)
        block = _with_list_beside(pages, pattern, drawing, lines)
    else:
        list_height = -(-len(lines) // _COLUMNS) * _LEADING
        as_words = list_height > _TALLEST_LIST
        room = min(_TALLEST, pages.content_height - (0 if as_words else list_height) - 60)
        drawing = board_drawing(cuts, pages.content_width, room, ids=one)
        block = _with_list_below(pages, pattern, drawing, [] if as_words else lines)
    pages.place(block)
    if as_words:  # more cuts than fit under a drawing that can be read
        for bold, group in groupby(texts, key=lambda text: text[1]):
            pages.words("; ".join(text for text, _ in group), _TEXT, bold)
    shown = {label.text.rpartition(" · ")[2] for label in labels_of(drawing.shapes)}
    hidden = [piece for piece in cuts.pieces if piece.name not in shown]
    if not one or hidden:
        _pieces_table(pages, pattern)
    pages.y -= 6


def _height_of(cuts: BoardCuts, width: float, of_list: float) -> float:
    """How high to draw what is cut: lower where few strips are cut whole and the rest only stays."""
    if any(len(strip.pieces) > 2 for strip in cuts.strips):
        return _HALF_HEIGHT
    height = max(_LOW_HEIGHT, min(of_list, _HALF_HEIGHT))
    while height < _HALF_HEIGHT and smallest_strip_points(cuts, width, height) < _ROOMY_STRIP:
        height += 10
    return min(height, _HALF_HEIGHT)


def _title(pages: Pages, pattern: Pattern, block: Drawing) -> None:
    """'B017 · B-120 · 1200 x 1000' and, large, whether to open it or to take it from the rack, and how many."""
    cuts = pattern.cuts
    names = ", ".join(board.name for board in pattern.boards[:4]) + (", ..." if pattern.count > 4 else "")
    what = "remainder" if cuts.remainder else "board"
    how_many = f"{pattern.count} {what}{'' if pattern.count == 1 else 's'}"
    how_many = f"take {how_many}" if cuts.remainder else f"open {how_many}"
    stock = f"ON SITE ({cuts.stock}), {cuts.code}" if cuts.offcut and not cuts.remainder else cuts.code
    top = block.height - 14
    room = block.width - text_width(how_many, 14, True) - 16
    words = f"{names} · {stock} · {cuts.length_mm} x {cuts.width_mm}"
    size = next((size for size in (12.0, 11.0, 10.0) if text_width(words, size, True) <= room), 9.0)
    block.add(
        Line(0, block.height, block.width, block.height, "heavy-rule"),
        Label(0, top - 2, shortened(words, room, size, True), size, "start", True),
        Label(block.width, top - 2, how_many, 14.0, "end", True),
    )


def _with_list_beside(
    pages: Pages, pattern: Pattern, drawing: Drawing, lines: list[tuple[str, bool]]
) -> Drawing:
    height = max(drawing.height, len(lines) * _LEADING + 8) + 26
    block = Drawing(pages.content_width, height)
    _title(pages, pattern, block)
    block.paste(drawing, 0, height - 26 - drawing.height)
    y = height - 26 - 12
    left = pages.content_width - _LIST_WIDTH
    for text, bold in lines:
        block.add(Label(left, y, text, _TEXT, "start", bold))
        y -= _LEADING
    return block


def _with_list_below(
    pages: Pages, pattern: Pattern, drawing: Drawing, lines: list[tuple[str, bool]]
) -> Drawing:
    a_column = -(-len(lines) // _COLUMNS)
    height = drawing.height + a_column * _LEADING + 34
    block = Drawing(pages.content_width, height)
    _title(pages, pattern, block)
    block.paste(drawing, 0, height - 26 - drawing.height)
    top = height - 26 - drawing.height - 10
    for number, (text, bold) in enumerate(lines):
        x = (number // a_column) * (pages.content_width / _COLUMNS)
        block.add(Label(x, top - number % a_column * _LEADING, text, _TEXT, "start", bold))
    return block


def _list_of(cuts: BoardCuts, pattern: Pattern) -> list[tuple[str, bool]]:
    """The cuts in order, what stays on the rack, and what is kept; (words, bold)."""
    texts: list[tuple[str, bool]] = [("Cuts, in this order", True)]
    texts += [(words, False) for words in cuts_in_words(cuts)]
    if cuts.kerf_mm:
        texts.append((f"The saw takes {cuts.kerf_mm} mm beyond each mark.", False))
    if cuts.stays and pattern.count == 1:
        texts.append(("Keep on the rack, labelled", True))
        for rest in cuts.stays:
            texts.append((f"{rest.name}  {rest.size}", True))
            texts.append((f"waits for {rest.waits_for}", False))
    kept: dict[tuple[int, int], int] = {}
    for rest in cuts.remainders:
        if rest.keep:
            kept[rest.length_mm, rest.width_mm] = kept.get((rest.length_mm, rest.width_mm), 0) + 1
    if kept:
        texts.append(("Left over: keep, marked with its size", True))
        texts += [
            (f"{number} x  {length} x {width}" if number > 1 else f"{length} x {width}", False)
            for (length, width), number in kept.items()
        ]
    if pattern.count == 1:
        notches = [
            f"{piece.place} at {notches_in_words(piece.notches)}" for piece in cuts.pieces if piece.notches
        ]
        if notches:
            sized = any(notch.size for piece in cuts.pieces for notch in piece.notches)
            how = " (width x depth)" if sized else ""
            texts.append((f"Notches, from the piece's start{how}", True))
            texts.append(("; ".join(notches), False))
    return texts


def cuts_in_words(cuts: BoardCuts) -> list[str]:
    """The cuts as the crew reads them, a line a cut; the cross-cuts of a strip share a line."""
    lines: list[str] = []
    for (kind, _, _), group in groupby(cuts.cuts, key=_line_of):
        here = list(group)
        first, last = here[0], here[-1]
        numbers = f"{first.number}" if first is last else f"{first.number}-{last.number}"
        if kind == "rip":
            words = f"rip at {first.at_mm}"
        elif kind == "cross-cut":
            words = f"strip {first.strip}: cross-cut at {', '.join(str(cut.at_mm) for cut in here)}"
        elif kind == "trim":
            words = f"{first.place}: trim to {first.at_mm}"
        else:
            words = f"{first.place}: slant from {first.at_mm} to {first.to_mm}"
        lines.append(f"{numbers}  {words}")
    return lines


def _line_of(cut: Cut) -> tuple[str, str, int]:
    """Equal for cuts that share a line of the list."""
    return (cut.kind, cut.strip, 0) if cut.kind == "cross-cut" else (cut.kind, cut.strip, cut.number)


def _pieces_table(pages: Pages, pattern: Pattern) -> None:
    """Which piece and which remainder comes of which board; a notch is said under its piece's id."""
    size = 8.0
    places = [piece.place for piece in pattern.cuts.pieces]
    longest = max(
        (text_width(piece.name, size) for board in pattern.boards for piece in board.pieces), default=40.0
    )
    first = 12.0 + max(42.0, *(text_width(board.name, size) for board in pattern.boards))
    column = min(max(longest + 8, 58.0), (pages.content_width - first) / 2)
    at_once = max(1, int((pages.content_width - first) // column))
    places += [f"stays, for {rest.waits_for}" for rest in pattern.cuts.stays]
    for start in range(0, len(places), at_once):
        part = places[start : start + at_once]
        columns = [
            Column("take" if pattern.cuts.remainder else "board", first),
            *(Column(place, column) for place in part),
        ]
        rows = []
        for board in pattern.boards:
            comes = [*map(_piece_words, board.pieces), *(f"{rest.name}\n{rest.size}" for rest in board.stays)]
            rows.append([board.name, *comes[start : start + at_once]])
        pages.table(*side_by_side(columns, rows, pages.content_width), size)


def _piece_words(piece: PlacedPiece) -> str:
    notches = notches_in_words(piece.notches)
    return f"{piece.name}\nnotch {notches}" if notches else piece.name


def side_by_side(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], width: float
) -> tuple[Sequence[Column], Sequence[Sequence[str]]]:
    """A long narrow table in as many blocks as stand beside each other; it is read down, then to the right."""
    gap = Column("", 14)
    blocks = int((width + gap.width) // (sum(column.width for column in columns) + gap.width))
    a_block = max(_FEW_ROWS, -(-len(rows) // max(1, blocks)))
    starts = range(0, len(rows), a_block)
    if len(starts) < 2:
        return columns, rows
    none = [""] * len(columns)
    wide = [
        [cell for start in starts for cell in ("", *(rows[start + at] if start + at < len(rows) else none))][
            1:
        ]
        for at in range(a_block)
    ]
    return [column for _ in starts for column in (gap, *columns)][1:], wide

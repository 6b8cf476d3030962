"""The sheets that boards are cut from: each pattern drawn once, its cuts in order, its pieces board by board."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from optimiser.writing.board_cuts import BoardCuts, Cut
from optimiser.writing.board_patterns import Pattern
from optimiser.writing.drawings import board_drawing, smallest_strip_points
from optimiser.writing.pdf_pages import Column, Pages
from optimiser.writing.shapes import Drawing, Label, Line, labels_of, shortened, text_width, wrapped

_TEXT = 8.5
_LEADING = 11.0
_LIST_WIDTH = 168.0
_HALF_HEIGHT = 272.0
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
    half_fits = (
        smallest_strip_points(cuts, beside, _HALF_HEIGHT) >= _LEGIBLE_STRIP
        and len(lines) * _LEADING <= _HALF_HEIGHT + 10
    )
    one = pattern.count == 1
    if half_fits:
        drawing = board_drawing(cuts, beside, _HALF_HEIGHT, ids=one)
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


def _title(pages: Pages, pattern: Pattern, block: Drawing) -> None:
    """'Pattern 3 · B-120 · 1200 x 1000' and, large, how many boards."""
    cuts = pattern.cuts
    last = pattern.first_board + pattern.count - 1
    boards = f"board {last}" if pattern.count == 1 else f"boards {pattern.first_board} to {last}"
    how_many = f"cut {pattern.count} {'board' if pattern.count == 1 else 'boards'}"
    stock = f"ON SITE ({cuts.stock}), {cuts.code}" if cuts.offcut else cuts.code
    top = block.height - 14
    room = block.width - text_width(how_many, 14, True) - 16
    words = f"Pattern {pattern.number} · {stock} · {cuts.length_mm} x {cuts.width_mm} · {boards}"
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
    """The cuts in order, what is kept, and what waits for a later level; (words, bold)."""
    texts: list[tuple[str, bool]] = [("Cuts, in this order", True)]
    texts += [(words, False) for words in cuts_in_words(cuts)]
    if cuts.kerf_mm:
        texts.append((f"The saw takes {cuts.kerf_mm} mm beyond each mark.", False))
    kept: dict[tuple[int, int], int] = {}
    for rest in cuts.remainders:
        if rest.keep:
            kept[rest.length_mm, rest.width_mm] = kept.get((rest.length_mm, rest.width_mm), 0) + 1
    if kept:
        texts.append(("Keep, marked with its size", True))
        texts += [
            (f"{number} x  {length} x {width}" if number > 1 else f"{length} x {width}", False)
            for (length, width), number in kept.items()
        ]
    later = _for_later(cuts) if pattern.count == 1 else []
    if later:
        texts.append(("For later levels: label and store", True))
        texts += [(words, False) for words in later]
    if pattern.count == 1:
        notches = [
            f"{piece.place} at {', '.join(str(at) for at in piece.notches_from_start_mm)}"
            for piece in cuts.pieces
            if piece.notches_from_start_mm
        ]
        if notches:
            texts.append(("Notches, from the piece's start", True))
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


def _for_later(cuts: BoardCuts) -> list[str]:
    """Pieces that are cut now for a level that is delivered later."""
    later: dict[str, list[str]] = {}
    for piece in cuts.pieces:
        if piece.needed_by not in ("", cuts.level):
            later.setdefault(piece.needed_by, []).append(piece.place)
    return [f"{', '.join(places)} for {level}" for level, places in later.items()]


def _pieces_table(pages: Pages, pattern: Pattern) -> None:
    """Which piece stands where, board by board; a notch and a later level are said under its id."""
    size = 8.0
    places = [piece.place for piece in pattern.cuts.pieces]
    longest = max(
        (text_width(piece.name, size) for board in pattern.boards for piece in board.pieces), default=40.0
    )
    column = min(max(longest + 8, 58.0), (pages.content_width - 42) / 2)
    at_once = max(1, int((pages.content_width - 42) // column))
    for start in range(0, len(places), at_once):
        part = places[start : start + at_once]
        columns = [Column("board", 42), *(Column(place, column) for place in part)]
        rows = []
        for offset, board in enumerate(pattern.boards):
            cells = [f"{pattern.first_board + offset}"]
            for piece in board.pieces[start : start + at_once]:
                words = [piece.name]
                if piece.notches_from_start_mm:
                    words.append("notch " + ", ".join(f"{at}" for at in piece.notches_from_start_mm))
                if piece.needed_by not in ("", board.level):
                    words.append(f"for {piece.needed_by}")
                cells.append("\n".join(words))
            rows.append(cells)
        pages.table(*side_by_side(columns, rows, pages.content_width), size)


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

"""The sheets that boards are cut from: each pattern drawn once, in two columns, with what its drawing cannot hold and,
where several boards are cut so, which piece comes of which board."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from optimiser.model.planned_pieces import notches_in_words
from optimiser.writing.crew.board_patterns import Pattern
from optimiser.writing.drawing.bench_boards import BenchDrawing, bench_drawing, bench_height
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.placed_board import BoardCuts, Cut, PlacedPiece
from optimiser.writing.drawing.shapes import Drawing, Label, Line, shortened, text_width, wrapped

GAP = 14.0  # points between the two columns
_TEXT = 10.0
_LEADING = 12.5
_TITLE = 20.0
_APART = 5.0  # between blocks
_FEW_ROWS = 6  # a table no longer than this is not set in blocks


def add_patterns(pages: Pages, patterns: Sequence[Pattern], narrow: Sequence[BoardCuts]) -> None:
    """The patterns in two columns, down the left one first, then in words the remainders with a single strip; a pattern
    that no page holds as a table of its strips."""
    width = (pages.content_width - GAP) / 2
    blocks: list[Drawing] = []
    for pattern in patterns:
        if bench_height(pattern.cuts) + _TITLE < pages.content_height:
            block = _block(pattern, width)
            if block.height <= pages.content_height:
                blocks.append(block)
                continue
        _in_columns(pages, blocks, width)
        blocks = []
        _as_table(pages, pattern)
    _in_columns(pages, [*blocks, *(_narrow_block(cuts, width) for cuts in narrow)], width)


def _in_columns(pages: Pages, blocks: Sequence[Drawing], width: float) -> None:
    """Blocks down the left column, then down the right one, page after page; on the last page both end alike."""
    waiting = list(blocks)
    while waiting:
        if pages.room < waiting[0].height:
            pages.new_page()
        top = lowest = pages.y
        first = _first_column([block.height + _APART for block in waiting], pages.room + _APART)
        for column in range(2):
            pages.y = top
            x = pages.left + column * (width + GAP)
            while waiting and pages.room >= waiting[0].height and not (column == 0 and first == 0):
                block = waiting.pop(0)
                first -= 1
                pages.y -= block.height
                pages.place_at(block, x, pages.y)
                pages.y -= _APART
            lowest = min(lowest, pages.y)
        pages.y = lowest
        if waiting:
            pages.new_page()


def _first_column(heights: Sequence[float], room: float) -> int:
    """How many of the blocks stand in the first of two columns so that the taller one is as low as can be; all that fit
    where they do not all fit into two."""
    split = [
        (max(sum(heights[:count]), sum(heights[count:])), -count) for count in range(1, len(heights) + 1)
    ]
    tallest, count = min(split)
    return -count if tallest <= room else len(heights)


def _block(pattern: Pattern, width: float) -> Drawing:
    """A pattern's title, its drawing, and below it what the drawing does not say."""
    cuts, alone = pattern.cuts, pattern.count == 1
    drawn = bench_drawing(cuts, width, ids=alone)
    lines = [
        (line, bold)
        for text, bold in _beside(cuts, drawn, alone)
        for line in wrapped(text, width - 4, _TEXT, bold)
    ]
    tables = [] if alone else _tables_of_pieces(pattern, width)
    height = _TITLE + drawn.drawing.height + 4 + len(lines) * _LEADING + sum(part.height for part in tables)
    block = Drawing(width, height + 3)
    block.add(Line(0, block.height, width, block.height, "heavy-rule"))
    _title(block, pattern)
    y = block.height - _TITLE - drawn.drawing.height
    block.paste(drawn.drawing, 0, y)
    y -= 4
    for text, bold in lines:
        y -= _LEADING
        block.add(Label(2, y + 3, text, _TEXT, "start", bold))
    for part in tables:
        y -= part.height
        block.paste(part, 0, y)
    return block


def _narrow_block(cuts: BoardCuts, width: float) -> Drawing:
    """A remainder with a single strip, which needs no drawing: its title, its cuts, and what comes of them."""
    said = [(words, False) for _, _, words in cuts_in_words(cuts)] or [("No cut: it fits as it is.", False)]
    for piece in cuts.pieces:
        notches = f", notch {notches_in_words(piece.notches)}" if piece.notches else ""
        said.append((f"{piece.place}  {piece.name}{notches}", True))
    said += [(f"Keep {rest.name}  {rest.size}, for {rest.waits_for}", True) for rest in cuts.stays]
    said += [
        (f"Keep the left-over {rest.length_mm} x {rest.width_mm}", False)
        for rest in cuts.remainders
        if rest.keep
    ]
    lines = [(line, bold) for text, bold in said for line in wrapped(text, width - 4, _TEXT, bold)]
    block = Drawing(width, _TITLE + len(lines) * _LEADING + 5)
    block.add(Line(0, block.height, width, block.height, "heavy-rule"))
    _title(block, Pattern(0, 0, (cuts,)))
    for number, (text, bold) in enumerate(lines, start=1):
        block.add(Label(2, block.height - _TITLE - number * _LEADING + 3, text, _TEXT, "start", bold))
    return block


def title_words(pattern: Pattern) -> tuple[str, str, str]:
    """'B017', 'B-120 1200 x 1000', 'OPEN'; of boards cut alike '3 alike', of a remainder 'TAKE'."""
    cuts = pattern.cuts
    name = cuts.name if pattern.count == 1 else f"{pattern.count} alike"
    stock = f"ON SITE {cuts.code}" if cuts.offcut and not cuts.remainder else cuts.code
    do = "TAKE" if cuts.remainder else "OPEN"
    do = do if pattern.count == 1 else f"{do} {pattern.count}"
    return name, f"{stock}  {cuts.length_mm} x {cuts.width_mm}", do


def _title(block: Drawing, pattern: Pattern) -> None:
    name, size, do = title_words(pattern)
    y, right = block.height - 15, block.width - text_width(do, 12, True)
    letters = 14.0 if text_width(name, 14, True) <= right * 0.55 else 12.0
    name = shortened(name, right * 0.6, letters, True)
    left = text_width(name, letters, True) + 8
    room = right - left - 8
    fit = next((points for points in (11.0, 10.0) if text_width(size, points) <= room), 9.0)
    block.add(
        Label(0, y, name, letters, "start", True),
        Label(left, y, shortened(size, room, fit), fit),
        Label(block.width, y, do, 12.0, "end", True),
    )


def _beside(cuts: BoardCuts, drawn: BenchDrawing, alone: bool) -> list[tuple[str, bool]]:
    """What is said below a drawing, since it holds no room for it; (words, bold)."""
    said: list[tuple[str, bool]] = []
    for kind, letter, words in cuts_in_words(cuts):
        if kind in ("slant", "trim") or (kind == "cross-cut" and letter in drawn.unmarked):
            said.append((words, False))
    if drawn.unnamed:
        named = "; ".join(f"{piece.place} {piece.name}" for piece in drawn.unnamed)
        said.append((named, True))
    if drawn.unnotched:
        notches = "; ".join(
            f"{piece.place} at {notches_in_words(piece.notches)}" for piece in drawn.unnotched
        )
        said.append((f"Notches: {notches}", False))
    for rest in drawn.unsaid if alone else ():
        if rest.name:
            said.append((f"Keep {rest.name}  {rest.size}, for {rest.waits_for}", True))
        else:
            said.append((f"Keep the left-over {rest.length_mm} x {rest.width_mm}", False))
    return said


def cuts_in_words(cuts: BoardCuts) -> list[tuple[str, str, str]]:
    """The cuts as the crew reads them, (kind, strip, words), a line a cut; the cross-cuts of a strip share one."""
    lines: list[tuple[str, str, str]] = []
    for (kind, letter, _), group in groupby(cuts.cuts, key=_line_of):
        here = list(group)
        first = here[0]
        if kind == "rip":
            words = f"rip at {first.at_mm}"
        elif kind == "cross-cut":
            words = f"{letter}: cross-cut at {', '.join(str(cut.at_mm) for cut in here)}"
        elif kind == "trim":
            words = f"{first.place}: trim to {first.at_mm}"
        else:
            words = f"{first.place}: slant from {first.at_mm} to {first.to_mm}"
        lines.append((kind, letter, words))
    return lines


def _line_of(cut: Cut) -> tuple[str, str, int]:
    """Equal for cuts that share a line of the list."""
    return (cut.kind, cut.strip, 0) if cut.kind == "cross-cut" else (cut.kind, cut.strip, cut.number)


def _tables_of_pieces(pattern: Pattern, width: float) -> list[Drawing]:
    """A row a place, a column a board that is cut so: which piece, with its notch, and which remainder comes of it."""
    places = [piece.place for piece in pattern.cuts.pieces]
    first = 8.0 + max(text_width(place, _TEXT, True) for place in (*places, "stays"))
    longest = max(
        text_width(line, _TEXT)
        for board in pattern.boards
        for words in _comes(board)
        for line in words.split("\n")
    )
    at_once = max(1, int((width - first) // (longest + 8)))
    column = (width - first) / at_once
    names = [*places, *("stays" for _ in pattern.cuts.stays)]
    found = []
    for start in range(0, pattern.count, at_once):
        boards = pattern.boards[start : start + at_once]
        rows = zip(names, *(_comes(board) for board in boards), strict=True)
        cells = [("", *(board.name for board in boards)), *rows]
        lines = [[wrapped(words, column - 6, _TEXT) for words in row] for row in cells]
        part = Drawing(width, sum(max(map(len, row)) for row in lines) * _LEADING + 4)
        y = part.height
        for number, row in enumerate(lines):
            for place, cell in enumerate(row):
                x = 2 if place == 0 else first + (place - 1) * column
                for line, words in enumerate(cell):
                    bold = number == 0 or place == 0
                    part.add(Label(x, y - (line + 1) * _LEADING + 3, words, _TEXT, "start", bold))
            y -= max(map(len, row)) * _LEADING
            part.add(Line(0, y, width, y, "facade" if number == 0 else "rule"))
        found.append(part)
    return found


def _comes(board: BoardCuts) -> list[str]:
    return [*map(_piece_words, board.pieces), *(f"{rest.name}\n{rest.size}" for rest in board.stays)]


def _piece_words(piece: PlacedPiece) -> str:
    notches = notches_in_words(piece.notches)
    return f"{piece.name}\nnotch {notches}" if notches else piece.name


def _as_table(pages: Pages, pattern: Pattern) -> None:
    """A pattern with more strips than a page holds: a row a strip, then what is trimmed and kept."""
    name, size, do = title_words(pattern)
    pages.heading(f"{name} · {size} · {do}", 12, keep_with=60)
    wide = pages.content_width
    columns = [
        Column("strip", wide * 0.08), Column("rip at", wide * 0.1, "end"), Column("cross-cut at", wide * 0.22),
        Column("pieces", wide * 0.6),
    ]  # fmt: skip
    for board in pattern.boards:
        rips = {cut.strip: f"{cut.at_mm}" for cut in board.cuts if cut.kind == "rip"}
        crosses = board.cross_cuts
        rows = [
            (
                strip.letter,
                rips.get(strip.letter, ""),
                ", ".join(map(str, crosses.get(strip.letter, ()))),
                "; ".join(f"{piece.place} {_piece_words(piece)}" for piece in strip.pieces).replace(
                    "\n", ", "
                ),
            )
            for strip in board.strips
        ]
        if pattern.count > 1:
            pages.words(board.name, 12, bold=True)
        pages.table(columns, rows, _TEXT)
        others = [words for kind, _, words in cuts_in_words(board) if kind in ("slant", "trim")]
        others += [f"keep {rest.name}  {rest.size}, for {rest.waits_for}" for rest in board.stays]
        others += [
            f"keep the left-over {rest.length_mm} x {rest.width_mm}" for rest in board.remainders if rest.keep
        ]
        if others:
            pages.words("; ".join(others) + ".", _TEXT)


def side_by_side(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], width: float, few: int = _FEW_ROWS
) -> tuple[Sequence[Column], Sequence[Sequence[str]]]:
    """A narrow table of more than `few` rows in as many blocks as stand beside each other; it is read down, then to
    the right."""
    gap = Column("", 14)
    blocks = int((width + gap.width) // (sum(column.width for column in columns) + gap.width))
    a_block = max(few, -(-len(rows) // max(1, blocks)))
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

"""`cutting-sheets.pdf`: what the crew cuts, fits and labels from.

A cover; then level by level in delivery order the board patterns and the runs; then the labels. Printed in
black on A4 or Letter.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimiser.plan import Plan
from optimiser.writing.board_patterns import Pattern, patterns_by_level, places_of_pieces
from optimiser.writing.labels import add_labels, labels_in_cutting_order
from optimiser.writing.pattern_sheets import add_pattern
from optimiser.writing.pdf_pages import Column, Pages, pdf_of
from optimiser.writing.plan_index import PlanIndex
from optimiser.writing.print_faces import printable
from optimiser.writing.run_sheets import add_runs
from optimiser.writing.shapes import Drawing, Label, Line, Polygon, hatching, rectangle
from optimiser.writing.sheet_frame import DECIDES, frame_of, levels_to_print


def cutting_sheets_pdf(
    plan: Plan, paper: str = "A4", *, levels: Sequence[str] | None = None, revision: str = ""
) -> bytes:
    """The cutting sheets of a plan.

    `paper` is A4 or Letter. `levels`: print these alone (None: all in delivery order, as many as one file
    holds; the cover says which are left out). `revision` stands beside the order reference on every page.
    Raises ValueError for an unknown paper or level.
    """
    index = PlanIndex(plan, printable)
    printed, left_out = levels_to_print(index, levels)
    patterns = patterns_by_level(index)
    places = places_of_pieces(patterns)
    body = Pages(paper)
    starts: dict[str, list[int | None]] = {level: [None, None] for level in printed}
    for level in printed:
        name = index.text(level)
        if patterns[level]:
            starts[level][0] = len(body.sheets)
            body.new_page(f"{name} · cutting")
            body.bookmark(f"{name}: cutting")
            for pattern in patterns[level]:
                add_pattern(body, pattern)
        runs = [run.run for run in plan.project.runs if run.level == level]
        if any(index.pieces_of_run.get(run) or index.not_planned_of_run.get(run) for run in runs):
            starts[level][1] = len(body.sheets)
            body.new_page(f"{name} · fitting")
            body.bookmark(f"{name}: fitting")
            add_runs(body, index, runs, places)
    labels_start = len(body.sheets)
    body.section = ""
    add_labels(body, index, paper, labels_in_cutting_order(index, places, printed), places)
    if len(body.sheets) > labels_start:
        body.bookmarks.append(body.bookmarks[0]._replace(title="Labels", page=labels_start))
    pages_before, cover = 1, _cover(index, paper, printed, left_out, patterns, starts, labels_start, 1)
    while len(cover.sheets) != pages_before:
        pages_before = len(cover.sheets)
        cover = _cover(index, paper, printed, left_out, patterns, starts, labels_start, pages_before)
    return pdf_of(frame_of(index, "Cutting sheets", revision), [cover, body])


def _cover(
    index: PlanIndex,
    paper: str,
    printed: Sequence[str],
    left_out: Sequence[str],
    patterns: Mapping[str, Sequence[Pattern]],
    starts: Mapping[str, Sequence[int | None]],
    labels_start: int,
    pages_before: int,
) -> Pages:
    """Whose sheets these are, how to work safely, what is in them, how to read them."""
    plan, text = index.plan, index.text
    heading = plan.project.project
    pages = Pages(paper)
    pages.new_page("Cutting sheets")
    pages.bookmark("Cover")
    name = text(heading.name) or "Project without a name"
    pages.words(name, 18 if len(name) <= 60 else 13, bold=True, after=2)
    facts = [
        ("Order", heading.order_reference),
        ("Deliver to", heading.deliver_to),
        ("Buyer", heading.buyer),
        ("Supplier", heading.supplier),
    ]
    pages.words(
        "; ".join(f"{name}: {text(value)}" for name, value in facts if value) or "No order reference", 9.5
    )
    if left_out:
        pages.words(
            f"Not in this file, which would be too long: {_named([text(level) for level in left_out])}. Write the"
            " sheets of these levels by themselves: barrier-orders plan --levels.",
            10,
            bold=True,
        )
    pages.heading("Cautions")
    pages.words(DECIDES, 9.5, bold=True)
    for caution in plan.cautions:
        pages.words(f"•  {text(caution)}", 9, after=1.5)
    pages.heading("What to cut", keep_with=60)
    _levels_table(pages, index, printed, patterns, starts, pages_before)
    label_pages = (
        f"Labels for all pieces: from page {labels_start + pages_before + 1}, in the order of cutting."
    )
    pages.words(label_pages + " barrier-orders plan --labels writes them alone, for sheets of labels.", 9)
    if plan.warnings:
        pages.heading("Warnings")
        for warning in plan.warnings:
            pages.words(f"•  {text(warning)}", 9, after=1.5)
    missing = [place for place in plan.not_planned if place.level in printed]
    if missing:
        pages.heading("Not planned")
        wide = pages.content_width
        columns = [Column("run", wide * 0.14), Column("from", wide * 0.09, "end"), Column("to", wide * 0.09, "end"),
                   Column("no", wide * 0.1), Column("because", wide * 0.29), Column("mend", wide * 0.29)]  # fmt: skip
        rows = [
            (text(place.run), f"{place.from_mm}", f"{place.to_mm}",
             "board" if place.what == "piece" else "bracket", text(place.reason), text(place.mend))
            for place in missing[:60]
        ]  # fmt: skip
        pages.table(columns, rows)
        if len(missing) > 60:
            pages.words(f"And {len(missing) - 60} more: they stand on their runs' sheets.", 9)
    pages.heading("How to read the sheets", keep_with=150)
    pages.place(_legend(pages.content_width))
    for line in _READING:
        pages.words(f"•  {line}", 9, after=1.5)
    return pages


_READING = (
    "All sizes are millimetres. Every rip is measured from the datum edge and every cross-cut from the datum end of"
    " the board, so that errors do not add up. Cut in the order of the numbers: rips, cross-cuts, slants, trims.",
    "Fibres run across the gap: never turn a piece by a quarter. A head-to-tail pair is turned end for end only.",
    "Strips are lettered from the datum edge, pieces numbered from the datum end: B2 is the second piece of strip B.",
    "'Cut from L01 3 B2' on a fitting sheet: piece B2 of board 3 on the cutting sheets of L01.",
    "KEEP: write its size on it and store it dry; a later level may be cut from it. Hatched: scrap.",
    "A piece cut too small is scrap: measure the gap again before cutting. Letters that this print lacks stand as"
    " their Unicode number in < >; the QR code has the id as written.",
)


def _levels_table(
    pages: Pages,
    index: PlanIndex,
    printed: Sequence[str],
    patterns: Mapping[str, Sequence[Pattern]],
    starts: Mapping[str, Sequence[int | None]],
    pages_before: int,
) -> None:
    wide = pages.content_width
    columns = [
        Column("level", wide * 0.16), Column("needed on", wide * 0.14), Column("boards to cut", wide * 0.22),
        Column("from site", wide * 0.10, "end"), Column("patterns", wide * 0.10, "end"),
        Column("pieces", wide * 0.10, "end"), Column("cutting page", wide * 0.09, "end"),
        Column("fitting page", wide * 0.09, "end"),
    ]  # fmt: skip
    rows: list[tuple[str, ...]] = []
    totals: dict[str, int] = {}
    offcuts = pattern_count = piece_count = 0
    for level in index.levels:
        if level.level not in starts:
            continue
        here = patterns[level.level]
        boards: dict[str, int] = {}
        for pattern in here:
            if not pattern.cuts.offcut:
                boards[pattern.cuts.code] = boards.get(pattern.cuts.code, 0) + pattern.count
                totals[pattern.cuts.code] = totals.get(pattern.cuts.code, 0) + pattern.count
        used = sum(pattern.count for pattern in here if pattern.cuts.offcut)
        pieces = sum(pattern.count * len(pattern.cuts.pieces) for pattern in here)
        offcuts, pattern_count, piece_count = offcuts + used, pattern_count + len(here), piece_count + pieces
        cutting, fitting = starts[level.level]
        rows.append(
            (
                index.text(level.level),
                f"{level.needed_on}" if level.needed_on else "no date",
                _boards(index, boards),
                f"{used}",
                f"{len(here)}",
                f"{pieces}",
                "" if cutting is None else f"{cutting + pages_before + 1}",
                "" if fitting is None else f"{fitting + pages_before + 1}",
            )
        )
    rows.append(
        ("together", "", _boards(index, totals), f"{offcuts}", f"{pattern_count}", f"{piece_count}", "", "")
    )
    pages.table(columns, rows, 8.5, bold_rows=lambda row: row == len(rows) - 1)


def _boards(index: PlanIndex, boards: Mapping[str, int]) -> str:
    return ", ".join(f"{number} x {index.text(code)}" for code, number in boards.items()) or "none"


def _named(names: Sequence[str]) -> str:
    """The names, of a long list the first and the last."""
    if len(names) <= 12:
        return ", ".join(names)
    return f"{', '.join(names[:4])}, ... {', '.join(names[-2:])} ({len(names)} levels)"


def _legend(width: float) -> Drawing:
    """The drawings' signs, each with its word."""
    drawing = Drawing(width, 34)
    step = width / 7
    y = 14.0
    box = ((0.0, y), (22.0, y), (22.0, y + 16), (0.0, y + 16))

    def at(column: int, points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
        return tuple((x + column * step, py) for x, py in points)

    drawing.add(Polygon(at(0, box), "piece"), Polygon(at(1, box), "keep"), Polygon(at(2, box), "scrap"))
    drawing.add(*hatching(at(2, box)))
    x = 3 * step + 10
    drawing.add(Line(x, y - 1, x, y + 14, "bracket"), Line(x - 3, y + 14, x + 3, y + 14, "bracket"))
    drawing.add(rectangle(x - 2, y - 2, 4, 5, "anchor"))
    x = 4 * step + 10
    drawing.add(Line(x, y, x, y + 16, "joint"))
    x = 5 * step + 10
    drawing.add(rectangle(x - 3, y + 8, 6, 7, "mullion"), rectangle(x - 3.5, y + 3, 7, 5, "notch"))
    x = 6 * step + 10
    drawing.add(Line(x - 8, y + 12, x + 10, y + 12, "piece"))
    drawing.add(Polygon(((x - 3, y + 12), (x, y + 7), (x + 3, y + 12)), "anchor"))
    names = (
        "piece",
        "left-over to keep",
        "scrap",
        "bracket, anchor",
        "taped joint",
        "mullion, notch",
        "notch on a board",
    )
    for column, name in enumerate(names):
        drawing.add(Label(column * step, 3, name, 7.5))
    return drawing

"""The cover of the crew's book: whose sheets these are, how to work safely, what is in them, how to read them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optimiser.writing.crew.board_patterns import DeliveryCuts
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.shapes import Drawing, Label, Line, Polygon, hatching, rectangle
from optimiser.writing.drawing.sheet_frame import ASK_FOR_THEM, DECIDES, WITHHELD
from optimiser.writing.words import counted, days_to_measure


@dataclass(frozen=True)
class Printed:
    """What one file holds: the levels, those left out because it would be too long, those withheld because they
    are nominal, and on which sheet of the body each delivery's cutting and each level's fitting begins."""

    levels: tuple[str, ...]
    left_out: tuple[str, ...]
    withheld: tuple[str, ...]
    cutting_at: dict[int, int]
    fitting_at: dict[str, int]


def cover_of(
    index: PlanIndex,
    paper: str,
    deliveries: Mapping[int, DeliveryCuts],
    printed: Printed,
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
    if printed.withheld:
        pages.words(
            f"{WITHHELD} {_named([text(level) for level in printed.withheld])}. {ASK_FOR_THEM}",
            10,
            bold=True,
        )
    if days := days_to_measure(plan, printed.levels):
        pages.words(text(days), 10, bold=True)
    if printed.left_out:
        pages.words(
            f"Not in this file, which would be too long: {_named([text(level) for level in printed.left_out])}."
            " Write the sheets of these levels by themselves: barrier-orders plan --levels.",
            10,
            bold=True,
        )
    pages.heading("Cautions")
    if not any("licensed practitioner decide" in caution for caution in plan.cautions):
        pages.words(DECIDES, 9.5, bold=True)
    for caution in plan.cautions:
        pages.words(f"•  {text(caution)}", 9, after=1.5)
    pages.heading("What to cut", keep_with=60)
    _levels_table(pages, index, deliveries, printed, pages_before)
    pages.words(
        "Labels for pieces and remainders are a file of their own, labels.pdf, in the order of cutting or run by run"
        " (barrier-orders plan --label-order run).",
        9.5,
    )
    asked = [question for question in plan.questions if question.level in printed.levels]
    if asked:
        by_level = Counter(question.level for question in asked)
        each = ", ".join(f"{text(level)}: {number}" for level, number in by_level.items())
        pages.heading("Questions to the survey")
        pages.words(
            f"{counted(len(asked), 'question')} by level ({each}): they stand on the levels' fitting sheets, and"
            " barrier-orders survey prints a sheet to measure again with.",
            9,
        )
    if plan.project.reading_notes:
        pages.heading("How cells of the survey were read")
        for note in plan.project.reading_notes:
            pages.words(f"•  {text(note)}", 9, after=1.5)
    if plan.warnings:
        pages.heading("Warnings")
        for warning in plan.warnings:
            pages.words(f"•  {text(warning)}", 9, after=1.5)
    missing = [place for place in plan.not_planned if place.level in printed.levels]
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
    pages.heading("How to read the sheets", keep_with=90)
    pages.place(_legend(pages.content_width))
    for line in _READING:
        pages.words(f"•  {line}", 9, after=1.5)
    return pages


_READING = (
    "All sizes are millimetres. Mark every rip from the fresh edge (0) and every cross-cut from the datum end of what"
    " lies on the bench, so that errors do not add up; of a remainder, they are the edge and end cut last. Lengths on"
    " the boards are to scale, widths are not: cut by the figures. Rips first, then cross-cuts, slants, trims.",
    "Cut nothing that is not on the sheets of your level. What stays of a board goes on the rack under its name,"
    " labelled: B017-R2 is the second remainder of board B017. The sheets of the level that it waits for take it"
    " again.",
    "Fibres run across the gap: never turn a piece by a quarter. A head-to-tail pair is turned end for end only.",
    "Strips are lettered from the datum edge of the whole board, pieces numbered from its datum end: B2 is the second"
    " piece of strip B. 'Cut from B017-R2 C1': piece C1 of the remainder B017-R2.",
    "'Notch 600' on a board and on a fitting sheet is the notch's middle from the piece's own start; its width and"
    " depth stand behind it, or over the column where they are alike.",
    "Fitting sheets: 'begins at' and 'brackets at' are measured from the run's start, along the slab edge. 'Serves gaps"
    " of 145-150': the cut width fits where the gap measures that much; elsewhere measure again and ask.",
    "KEEP: write its size on it and store it dry; a later level may be cut from it. Hatched: scrap. Letters that this"
    " print lacks stand as their Unicode number in < >; the QR code has the id as written.",
)


def _levels_table(
    pages: Pages,
    index: PlanIndex,
    deliveries: Mapping[int, DeliveryCuts],
    printed: Printed,
    pages_before: int,
) -> None:
    """A row for each level; what is cut for levels that come together stands in the first one's row."""
    wide = pages.content_width
    columns = [
        Column("level", wide * 0.13), Column("needed on", wide * 0.13), Column("open", wide * 0.25),
        Column("open, on site", wide * 0.08, "end"), Column("take from rack", wide * 0.08, "end"),
        Column("keep on rack", wide * 0.08, "end"), Column("pieces", wide * 0.08, "end"),
        Column("cutting page", wide * 0.085, "end"), Column("fitting page", wide * 0.085, "end"),
    ]  # fmt: skip
    rows: list[tuple[str, ...]] = []
    totals: Counter[str] = Counter()
    sums = [0, 0, 0, 0]
    done: set[int] = set()
    for level in index.levels:
        if level.level not in printed.levels:
            continue
        delivery = deliveries.get(level.sequence)
        steps = delivery.steps if delivery and level.sequence not in done else ()
        done.add(level.sequence)
        boards = Counter(step.code for step in steps if step.taken is None and not step.on_site)
        totals += boards
        numbers = [
            sum(step.taken is None and step.on_site for step in steps),
            sum(step.taken is not None for step in steps),
            sum(len(step.kept) for step in steps),
            sum(len(step.pieces) for step in steps),
        ]
        sums = [a + b for a, b in zip(sums, numbers, strict=True)]
        nominal = level.level in index.forecast_levels
        cutting, fitting = printed.cutting_at.get(level.sequence), printed.fitting_at.get(level.level)
        if level.level in printed.withheld:
            fitting = None
        rows.append(
            (
                index.text(level.level) + (" (nominal)" if nominal else ""),
                f"{level.needed_on}" if level.needed_on else "no date",
                _boards(index, boards),
                *(f"{number}" for number in numbers),
                "" if cutting is None else f"{cutting + pages_before + 1}",
                "" if fitting is None else f"{fitting + pages_before + 1}",
            )
        )
    rows.append(("together", "", _boards(index, totals), *(f"{number}" for number in sums), "", ""))
    pages.table(columns, rows, 9.0, bold_rows=lambda row: row == len(rows) - 1)


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

    drawing.add(Polygon(at(0, box), "piece"), Polygon(at(1, box), "remainder"))
    drawing.add(Polygon(at(2, box), "keep"), Polygon(at(3, box), "scrap"))
    drawing.add(*hatching(at(3, box)))
    x = 4 * step + 10
    drawing.add(Line(x, y - 1, x, y + 14, "bracket"), Line(x - 3, y + 14, x + 3, y + 14, "bracket"))
    drawing.add(rectangle(x - 2, y - 2, 4, 5, "anchor"))
    x = 5 * step + 10
    drawing.add(Line(x, y, x, y + 16, "joint"))
    x = 6 * step + 10
    drawing.add(rectangle(x - 3, y + 8, 6, 7, "mullion"), rectangle(x - 3.5, y + 3, 7, 5, "notch"))
    names = ("piece", "stays on rack", "left-over", "scrap", "bracket", "taped joint", "mullion, notch")
    for column, name in enumerate(names):
        drawing.add(Label(column * step, 3, name, 9.0))
    return drawing

"""`inspection.pdf` and `inspection.csv`: by level, who fitted and who saw each joint and bracket, for whoever signs.

What is not on record yet stands first on each level. The report says what people saw; it does not judge the seal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimiser.model.plan import Plan
from optimiser.tables.columns import only
from optimiser.tables.inspection import INSPECTION
from optimiser.tables.text import cell_text, csv_of
from optimiser.takeoff.inspection import LevelInspection, Part
from optimiser.writing.drawing.pdf_file import Frame, pdf_of
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.drawing.shapes import Label, rectangle, shortened
from optimiser.writing.drawing.sheet_frame import SHORT_CAUTION
from optimiser.writing.words import counted

DECIDES = (
    "This is a record of what people say they fitted and saw. It does not judge the seal: the tested detail, local code"
    " and a licensed practitioner decide whether it may stand. How a seal is inspected is for the detail and for the"
    " standard that governs the building (ASTM E2393 is one for on-site inspection)."
)
_SHARES = {
    "run": 0.09, "piece": 0.13, "part": 0.13, "meets": 0.12, "fitted_by": 0.13, "seen_by": 0.13, "remark": 0.19,
    "photographs": 0.08,
}  # fmt: skip
_HEADINGS = {"meets": "meets, or size", "photographs": "photos"}
_SIZE = 9.0
_PICTURE = 150.0  # points high
MOST_PICTURES = 60  # of one report: a photograph has some 300 kB


def inspection_csv(levels: Sequence[LevelInspection]) -> str:
    """A row a joint or bracket (RFC 4180: commas, CRLF); an empty cell: nobody says so yet."""
    return csv_of(INSPECTION, [part for level in levels for part in level.parts])


def inspection_pdf(
    plan: Plan,
    levels: Sequence[LevelInspection],
    made_on: str,
    paper: str = "A4",
    pictures: Mapping[str, bytes] | None = None,
) -> bytes:
    """The report of these levels as a PDF; `made_on` is the day that it is of, `pictures` are photographs by their id:
    those of joints and brackets of the levels are shown, up to `MOST_PICTURES`.

    Equal input gives equal bytes. Raises ValueError for a paper other than A4 and Letter.
    """
    pages = Pages(paper)
    heading = plan.project.project
    name = printable(heading.name) or "Project without a name"
    pages.new_page("Inspection: what was fitted and seen")
    pages.words(f"On record until {made_on}. Positions in millimetres.", 10, bold=True)
    pages.words(DECIDES, 9, after=6)
    _summary(pages, levels)
    pages.heading("Cautions")
    for caution in plan.cautions:
        pages.words(f"•  {printable(caution)}", 9, after=1.5)
    shown = dict(list(_pictures_of(levels, pictures or {}).items())[:MOST_PICTURES])
    for level in levels:
        _level(pages, level, shown)
    frame = Frame(
        title=f"Inspection: {name}",
        project=name,
        reference=f"Inspection, {made_on}",
        caution=SHORT_CAUTION,
        subject=DECIDES,
    )
    return pdf_of(frame, [pages])


def _summary(pages: Pages, levels: Sequence[LevelInspection]) -> None:
    wide = pages.content_width
    columns = [Column("level", wide * 0.2)]
    columns += [Column(text, wide * 0.11, "end") for text in ("joints", "fitted", "seen")]
    columns += [Column(text, wide * 0.11, "end") for text in ("brackets", "fitted", "seen")]
    columns += [Column("not covered", wide * 0.14, "end")]
    rows = []
    for level in levels:
        numbers = [*level.counted("joint"), *level.counted("bracket"), len(level.not_covered)]
        rows.append([printable(level.level), *(f"{number:,}" for number in numbers)])
    pages.table(columns, rows, 9.5)


def _pictures_of(levels: Sequence[LevelInspection], pictures: Mapping[str, bytes]) -> dict[str, bytes]:
    """The pictures of the levels' parts, in their order."""
    wanted = [shot for level in levels for part in level.parts for shot in part.photographs]
    return {shot: pictures[shot] for shot in wanted if shot in pictures}


def _level(pages: Pages, level: LevelInspection, pictures: Mapping[str, bytes]) -> None:
    name = printable(level.level)
    pages.new_page(f"Inspection: level {name}")
    pages.bookmark(f"Level {name}")
    open_parts = level.not_covered
    if level.nominal:
        pages.words(
            "Gaps of this level are still nominal: it is not measured yet, and the pieces below are a forecast.",
            9,
            bold=True,
        )
    for place in level.not_planned:
        pages.words(f"Left out of the plan: {printable(place)}.", 9, bold=True)
    if open_parts:
        unfitted = sum(part.fitted is None for part in open_parts)
        unseen = sum(part.seen is None for part in open_parts)
        pages.words(
            f"Not yet covered: {len(open_parts):,} of {len(level.parts):,} joints and brackets; {unfitted:,} not on"
            f" record as fitted, {unseen:,} seen by nobody. They are marked with a bar.",
            10,
            bold=True,
        )
    else:
        pages.words(
            "Every joint and bracket of this level is on record as fitted and as seen by somebody.", 10
        )
    if level.remarks:
        pages.heading(f"{counted(len(level.remarks), 'remark')}", 10)
        for part in level.remarks:
            assert part.seen is not None
            pages.words(
                printable(f"•  {part.piece}, {part.name}: {part.seen.remark} ({part.seen.by})"),
                9.5,
                after=1.5,
            )
    pages.heading("Joint by joint, bracket by bracket", 10, keep_with=60)
    _parts(pages, level.parts)
    _signature(pages)
    _photographs(pages, level, pictures)


def _parts(pages: Pages, parts: Sequence[Part]) -> None:
    columns = only(INSPECTION, *_SHARES)
    heads = [
        Column(_HEADINGS.get(column.name, column.within_a_line), share * pages.content_width)
        for column, share in zip(columns, _SHARES.values(), strict=True)
    ]
    pages.table(heads, (_row(part) for part in parts), _SIZE, lambda number: bool(parts[number].open))


def _row(part: Part) -> list[str]:
    cells = {column.name: cell_text(column, part) for column in INSPECTION}
    cells["photographs"] = str(len(part.photographs) or "")
    for which, said in (("fitted_by", part.fitted), ("seen_by", part.seen)):
        if said is None:
            cells[which] = "| not on record"
        else:
            how = "" if said.how == "itself" else f", {said.how}"
            cells[which] = f"{said.by}, {said.at.day} {said.at:%b %H:%M}{how if which == 'seen_by' else ''}"
    return [printable(cells[name]) for name in _SHARES]


def _photographs(pages: Pages, level: LevelInspection, pictures: Mapping[str, bytes]) -> None:
    """The level's photographs, two side by side, each under the part that it is of."""
    taken = [(part, shot) for part in level.parts for shot in part.photographs]
    if not taken:
        return
    pages.heading(f"{counted(len(taken), 'photograph')}", 10, keep_with=_PICTURE + 20)
    shown = [(part, shot) for part, shot in taken if shot in pictures]
    half = pages.content_width / 2 - 6
    for place, (part, shot) in enumerate(shown):
        if place % 2 == 0:
            pages.need(_PICTURE + 20)
            pages.y -= _PICTURE + 18
        x = pages.left + (place % 2) * (half + 12)
        words = f"{part.piece}, {part.name} ({shot})"
        pages.add(Label(x, pages.y + _PICTURE + 6, shortened(printable(words), half, 9), 9.0))
        if not pages.picture(pictures[shot], x, pages.y, half, _PICTURE):
            pages.add(Label(x, pages.y + _PICTURE - 10, "This picture cannot be read.", 9.0, bold=True))
    if len(shown) < len(taken):
        more = len(taken) - len(shown)
        pages.words(f"{more:,} more {'is' if more == 1 else 'are'} not shown here: see the service.", 9.5)


def _signature(pages: Pages) -> None:
    pages.need(70)
    pages.y -= 60
    half = pages.content_width / 2 - 6
    for place, words in enumerate(("seen and signed by, in block letters", "signature and date")):
        x = pages.left + place * (half + 12)
        pages.add(rectangle(x, pages.y + 12, half, 40, "box"), Label(x, pages.y, words, 9.0))

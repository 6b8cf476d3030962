"""The sheets that pieces are fitted from: each run as it lies, then its set-out along the edge, a row a piece.

The figures of the set-out are read at arm's length, and all of a row is measured from the run's start with one tape.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby

from optimiser.model.planned_pieces import Notch
from optimiser.writing.crew.board_patterns import CutAt
from optimiser.writing.crew.measure_first import served_gaps
from optimiser.writing.drawing.elevation import compact_rows
from optimiser.writing.drawing.elevation_scales import scale_words
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import RunView, Stretch, junction_words, run_view, short_id
from optimiser.writing.drawing.shapes import FIGURES, Anchor, Drawing, Label, shortened, text_width, wrapped
from optimiser.writing.words import counted

_SIZE = 10.0
_LEADING = 12.0
_SHORT_MM = 1200  # a run no longer than this has a third of the page's width
_SIDE_BY_SIDE = 3
_SHORT_AT_ONCE = 9  # short runs over one table: as many as stand on a page with it


def add_runs(pages: Pages, index: PlanIndex, runs: Sequence[str], places: Mapping[str, CutAt]) -> None:
    """The runs one after the other; short ones in a row, as on a curved facade, side by side over one table.

    `places` tells from which board each piece is cut.
    """
    for short, group in groupby(
        (run_view(index, run) for run in runs), key=lambda view: _is_short(index, view)
    ):
        views = [view for view in group if view.stretches]
        if short and len(views) > 1:
            for start in range(0, len(views), _SHORT_AT_ONCE):
                _add_short_runs(pages, index, views[start : start + _SHORT_AT_ONCE], places)
        else:
            for view in views:
                _add_run(pages, index, view, places)


def _is_short(index: PlanIndex, view: RunView) -> bool:
    return view.run.length_mm <= _SHORT_MM and not index.not_planned_of_run.get(view.run.run)


def _add_short_runs(
    pages: Pages, index: PlanIndex, views: Sequence[RunView], places: Mapping[str, CutAt]
) -> None:
    """Short runs side by side, each with its title, what it takes and its scales; then all their pieces."""
    gap = 12.0
    width = (pages.content_width - gap * (_SIDE_BY_SIDE - 1)) / _SIDE_BY_SIDE
    blocks = [
        _side_by_side(index, views[start : start + _SIDE_BY_SIDE], pages.content_width, width, width + gap)
        for start in range(0, len(views), _SIDE_BY_SIDE)
    ]
    named = f"{index.text(views[0].run.run)} to {index.text(views[-1].run.run)}"
    table = 44 + 16 * sum(len(view.stretches) + 1 for view in views)
    together = sum(block.height + 6 for block in blocks) + table
    pages.heading(
        f"Runs {named}, seen from above", FIGURES, keep_with=min(together, pages.content_height - 40)
    )
    for block in blocks:
        pages.place(block, after=6)
    _set_out(pages, index, views, places)
    pages.y -= 8


def _side_by_side(
    index: PlanIndex, views: Sequence[RunView], whole: float, width: float, step: float
) -> Drawing:
    """Runs in one line, each `width` points wide and `step` from the one before."""
    cells = []
    for view in views:
        scales, rows = compact_rows(index, view, width)
        words = f"{_summary(index, view)} Along 1 : {scales.along}, across 1 : {scales.across}."
        title = f"Run {index.text(view.run.run)} · {view.run.length_mm} mm"
        cells.append((title, wrapped(words, width, 9.0), rows))
    above = 16 + max(len(lines) for _, lines, _ in cells) * _LEADING
    block = Drawing(whole, above + max(sum(row.height for row in rows) for _, _, rows in cells))
    for place, (title, lines, rows) in enumerate(cells):
        left, top = place * step, block.height
        block.add(Label(left, top - 12, shortened(title, width, 11, True), 11.0, "start", True))
        for number, line in enumerate(lines, start=1):
            block.add(Label(left, top - 12 - number * _LEADING, line, 9.0))
        top -= above
        for row in rows:
            block.paste(row, left, top - row.height)
            top -= row.height
    return block


def _add_run(pages: Pages, index: PlanIndex, view: RunView, places: Mapping[str, CutAt]) -> None:
    """A run as it lies, and its set-out."""
    run = view.run.run
    scales, rows = compact_rows(index, view, pages.content_width)
    pages.heading(f"Run {index.text(run)} · {view.run.length_mm} mm", 14, keep_with=rows[0].height + 40)
    pages.words(_summary(index, view), _SIZE)
    for row in rows:
        pages.place(row, after=2)
    pages.words(index.text(scale_words(scales, view)), 9.0, after=4)
    _set_out(pages, index, [view], places)
    for place in index.not_planned_of_run.get(run, ()):
        what = "No board" if place.what == "piece" else "No bracket"
        pages.words(
            f"{what} from {place.from_mm} to {place.to_mm}: {index.text(place.reason)}."
            f" To mend it: {index.text(place.mend)}.",
            _SIZE,
            bold=True,
        )
    pages.y -= 4


def _summary(index: PlanIndex, view: RunView) -> str:
    """Pieces, brackets and tape of a run."""
    pieces = [stretch.piece for stretch in view.stretches if stretch.piece is not None]
    brackets: dict[str, int] = {}
    for piece in pieces:
        if piece.bracket:
            brackets[piece.bracket] = brackets.get(piece.bracket, 0) + len(piece.brackets_at_mm)
    parts = [counted(len(pieces), "piece")]
    parts += [f"{counted(number, 'bracket')} {index.text(code)}" for code, number in sorted(brackets.items())]
    detail = index.plan.project.building.detail_of(view.run.run)
    if view.run.detail:
        parts.append(f"detail {index.text(view.run.detail)}")
    if view.run.radius_mm is not None:
        parts.append(f"curved, radius {view.run.radius_mm}")
    if view.joints and detail.tape_faces:
        shortest = min(joint.tape_mm for joint in view.joints)
        longest = max(joint.tape_mm for joint in view.joints)
        each = f"{longest}" if shortest == longest else f"{shortest} to {longest}"
        faces = "the top face" if detail.tape_faces == 1 else f"{detail.tape_faces} faces"
        parts.append(f"tape over {counted(len(view.joints), 'joint')}, {faces}, {each} mm a joint")
    if view.run.mullions_mm:
        size = notch_size(view)
        notched = (
            f", notches {size} (width x depth)" if " x " in size else f", notches {size}" if size else ""
        )
        parts.append(counted(len(view.run.mullions_mm), "mullion") + notched)
    parts += junction_words(index, view)
    return "; ".join(parts) + "."


def notch_size(view: RunView) -> str:
    """'60 x 45': width by depth of a run's notches, as its mullions were measured; '' where they were not."""
    return Notch(at_mm=0, width_mm=view.run.mullion_width_mm, depth_mm=view.run.mullion_depth_mm).size


def _set_out(pages: Pages, index: PlanIndex, views: Sequence[RunView], places: Mapping[str, CutAt]) -> None:
    """Along the edge from each run's start: where a piece begins, its brackets, its notches; how wide it is cut, which
    gaps that serves, and from what it is cut."""
    several = len(views) > 1
    nominal = any(view.run.level in index.forecast_levels for view in views)
    sizes = {notch_size(view) for view in views if view.run.mullions_mm} or {""}
    (size,) = sizes if len(sizes) == 1 else ("",)
    rows: list[tuple[str, ...]] = []
    for view in views:
        rows += [
            _set_out_row(index, view, stretch, places, several, len(sizes) > 1) for stretch in view.stretches
        ]
        if (
            several or view.stretches[-1].to_mm != view.run.length_mm
        ):  # else it is the run's length, in its title
            rows.append(("end", f"{view.stretches[-1].to_mm}", *[""] * (len(_SET_OUT) - 2)))
    headings = dict(zip(_SET_OUT, _SET_OUT, strict=True))
    headings["cut width"] = "nominal width" if nominal else "cut width"
    headings["notches at"] = f"notches at ({size})" if size else "notches at"
    columns = [
        Column(headings[name], width, _ANCHORS.get(name, "start"), name in ("piece", "brackets at"))
        for name, width in zip(_SET_OUT, _widths(rows, pages.content_width), strict=True)
    ]
    pages.table(columns, rows, FIGURES, head_size=9.0, leading=1.04)


_SET_OUT = (
    "piece", "begins at", "brackets at", "bracket", "cut width", "serves gaps of", "notches at", "cut from",
)  # fmt: skip
_ANCHORS: dict[str, Anchor] = {
    "begins at": "end", "brackets at": "middle", "cut width": "middle", "serves gaps of": "middle",
}  # fmt: skip


def _widths(rows: Sequence[Sequence[str]], wide: float) -> list[float]:
    """The columns as wide as their longest cell, what is free shared among them; too many letters wrap."""
    bold = [name in ("piece", "brackets at") for name in _SET_OUT]
    natural = [
        max(
            *(text_width(word, 9.0, True) + 7 for word in _SET_OUT[place].split()),
            *(text_width(row[place], FIGURES, bold[place]) + 7 for row in rows),
        )
        for place in range(len(_SET_OUT))
    ]
    free = wide - sum(natural)
    if free >= 0:
        return [width + free / len(natural) for width in natural]
    most = wide / len(natural) * 1.6
    cut = [min(width, most) for width in natural]
    return [width * wide / sum(cut) for width in cut]


def _set_out_row(
    index: PlanIndex,
    view: RunView,
    stretch: Stretch,
    places: Mapping[str, CutAt],
    whole_id: bool,
    sized: bool,
) -> tuple[str, ...]:
    piece = stretch.piece
    if piece is None:
        return ("none", f"{stretch.from_mm}", "not planned", "", "", "", "", "")
    served, cut_at = served_gaps(index, piece), places.get(piece.id)
    width = f"{piece.cut_width_start_mm}"
    if piece.tapered:
        width = f"{width} to {piece.cut_width_end_mm}"
    return (
        index.text(piece.id) if whole_id else short_id(index, view, piece),
        f"{piece.from_mm}",
        " · ".join(str(piece.from_mm + at) for at in piece.brackets_at_mm),
        index.text(piece.bracket) if piece.bracket else "none fits",
        width,
        served.words if served else "tapered",
        piece.notch_words if sized else ", ".join(str(at) for at in piece.notches_at_mm),
        f"{cut_at.name} {cut_at.place}" if cut_at else "",
    )

"""The sheets that pieces are fitted from: each run to scale, then a row for each of its pieces."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby

from optimiser.model.plan import Notch
from optimiser.writing.crew.board_patterns import CutAt
from optimiser.writing.drawing.elevation import elevation_rows, scale_words
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import RunView, junction_words, run_view, short_id
from optimiser.writing.drawing.shapes import Drawing, Label, shortened, text_width, wrapped
from optimiser.writing.words import counted

_SIZE = 8.0
_LEADING = 10.0
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
    table = 40 + 14 * sum(len(view.stretches) for view in views)
    together = sum(block.height + 6 for block in blocks) + table
    pages.heading(f"Runs {named}, seen from above", 12, keep_with=min(together, pages.content_height - 40))
    for block in blocks:
        pages.place(block, after=6)
    _pieces(pages, index, views, places)
    pages.y -= 8


def _side_by_side(
    index: PlanIndex, views: Sequence[RunView], whole: float, width: float, step: float
) -> Drawing:
    """Runs in one line, each `width` points wide and `step` from the one before."""
    cells = []
    for view in views:
        scales, rows = elevation_rows(index, view, width)
        words = f"{_summary(index, view)} Along 1 : {scales.along}, across 1 : {scales.across}."
        title = f"Run {index.text(view.run.run)} · {view.run.length_mm} mm"
        cells.append((title, wrapped(words, width, _SIZE), rows))
    above = 14 + max(len(lines) for _, lines, _ in cells) * _LEADING
    block = Drawing(whole, above + max(sum(row.height for row in rows) for _, _, rows in cells))
    for place, (title, lines, rows) in enumerate(cells):
        left, top = place * step, block.height
        block.add(Label(left, top - 10, shortened(title, width, 9, True), 9.0, "start", True))
        for number, line in enumerate(lines, start=1):
            block.add(Label(left, top - 10 - number * _LEADING, line, _SIZE))
        top -= above
        for row in rows:
            block.paste(row, left, top - row.height)
            top -= row.height
    return block


def _add_run(pages: Pages, index: PlanIndex, view: RunView, places: Mapping[str, CutAt]) -> None:
    """A run's elevation and the table of its pieces."""
    run = view.run.run
    scales, rows = elevation_rows(index, view, pages.content_width)
    drawn = sum(row.height + 4 for row in rows) + 90
    pages.heading(
        f"Run {index.text(run)} · {view.run.length_mm} mm",
        12,
        keep_with=drawn if drawn < pages.content_height - 60 else rows[0].height + 40,
    )
    pages.words(_summary(index, view), _SIZE + 0.5)
    for row in rows:
        pages.place(row, after=4)
    pages.words(index.text(scale_words(scales, view)), _SIZE, after=4)
    _pieces(pages, index, [view], places)
    for place in index.not_planned_of_run.get(run, ()):
        what = "No board" if place.what == "piece" else "No bracket"
        pages.words(
            f"{what} from {place.from_mm} to {place.to_mm}: {index.text(place.reason)}."
            f" To mend it: {index.text(place.mend)}.",
            _SIZE + 0.5,
            bold=True,
        )
    pages.y -= 8


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
        size = Notch(
            at_mm=0, width_mm=view.run.mullion_width_mm, depth_mm=view.run.mullion_depth_mm
        ).size  # fmt: skip
        notched = (
            f", notches {size} (width x depth)" if " x " in size else f", notches {size}" if size else ""
        )
        parts.append("mullions at " + ", ".join(str(mullion) for mullion in view.run.mullions_mm) + notched)
    parts += junction_words(index, view)
    return "; ".join(parts) + "."


def _pieces(pages: Pages, index: PlanIndex, views: Sequence[RunView], places: Mapping[str, CutAt]) -> None:
    """A row for each piece of the runs."""
    wide = pages.content_width
    nominal = any(view.run.level in index.forecast_levels for view in views)
    shares = (
        ("piece", 0.15, "start"),
        ("from", 0.075, "end"),
        ("to", 0.075, "end"),
        ("nominal width" if nominal else "cut width", 0.11, "middle"),
        ("gap", 0.11, "middle"),
        ("bracket", 0.11, "start"),
        ("brackets at", 0.105, "start"),
        ("notches at", 0.135, "start"),
        ("cut from", 0.13, "start"),
    )
    columns = [Column(name, share * wide, anchor) for name, share, anchor in shares]  # type: ignore[arg-type]
    rows = []
    for view, stretch in ((of, stretch) for of in views for stretch in of.stretches):
        piece = stretch.piece
        if piece is None:
            continue
        name = index.text(piece.id)
        cut_at = places.get(piece.id)
        tapered = f"{piece.cut_width_start_mm} to {piece.cut_width_end_mm}"
        gap = f"{piece.gap_min_mm} to {piece.gap_max_mm}"
        rows.append(
            (
                name if text_width(name, _SIZE) <= columns[0].width - 6 else short_id(index, view, piece),
                f"{piece.from_mm}",
                f"{piece.to_mm}",
                tapered if piece.tapered else f"{piece.cut_width_start_mm}",
                gap if piece.gap_min_mm != piece.gap_max_mm else f"{piece.gap_min_mm}",
                index.text(piece.bracket) if piece.bracket else "none fits",
                ", ".join(str(at) for at in piece.brackets_at_mm),
                piece.notch_words,
                f"{cut_at.name} {cut_at.place}" if cut_at else "",
            )
        )
    pages.table(columns, rows, _SIZE)

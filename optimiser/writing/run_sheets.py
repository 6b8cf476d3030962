"""The sheets that pieces are fitted from: each run to scale, then a row for each of its pieces."""

from __future__ import annotations

from collections.abc import Mapping

from optimiser.writing.elevation import elevation_rows, scale_words
from optimiser.writing.pdf_pages import Column, Pages
from optimiser.writing.plan_index import PlanIndex
from optimiser.writing.run_view import RunView, run_view, short_id
from optimiser.writing.shapes import text_width
from optimiser.writing.words import counted

_SIZE = 8.0


def add_run(pages: Pages, index: PlanIndex, run: str, places: Mapping[str, tuple[str, int, str]]) -> None:
    """A run's elevation and the table of its pieces. `places` tells from which board each piece is cut."""
    view = run_view(index, run)
    if not view.stretches:
        return
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
    _pieces(pages, index, view, places)
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
    detail = index.plan.project.detail
    if view.joints and detail.tape_faces:
        shortest = min(joint.tape_mm for joint in view.joints)
        longest = max(joint.tape_mm for joint in view.joints)
        each = f"{longest}" if shortest == longest else f"{shortest} to {longest}"
        faces = "the top face" if detail.tape_faces == 1 else f"{detail.tape_faces} faces"
        parts.append(f"tape over {counted(len(view.joints), 'joint')}, {faces}, {each} mm a joint")
    if view.run.mullions_mm:
        parts.append("mullions at " + ", ".join(str(mullion) for mullion in view.run.mullions_mm))
    return "; ".join(parts) + "."


def _pieces(
    pages: Pages, index: PlanIndex, view: RunView, places: Mapping[str, tuple[str, int, str]]
) -> None:
    wide = pages.content_width
    shares = (
        ("piece", 0.18, "start"),
        ("from", 0.075, "end"),
        ("to", 0.075, "end"),
        ("cut width", 0.115, "middle"),
        ("gap", 0.115, "middle"),
        ("bracket", 0.115, "start"),
        ("brackets at", 0.125, "start"),
        ("notches at", 0.09, "start"),
        ("cut from", 0.11, "start"),
    )
    columns = [Column(name, share * wide, anchor) for name, share, anchor in shares]  # type: ignore[arg-type]
    rows = []
    for stretch in view.stretches:
        piece = stretch.piece
        if piece is None:
            continue
        name = index.text(piece.id)
        level, board, place = places.get(piece.id, ("", 0, ""))
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
                ", ".join(str(at) for at in piece.notches_at_mm),
                f"{index.text(level)} {board} {place}" if board else "",
            )
        )
    pages.table(columns, rows, _SIZE)

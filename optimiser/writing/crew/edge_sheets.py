"""What a level's crew must know before its runs: which edges they make up, where runs meet, and which brackets stand
farther than the detail says."""

from __future__ import annotations

from optimiser.model.planned_pieces import MovedBracket, PlannedPiece
from optimiser.writing.crew.pattern_sheets import side_by_side
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.words import counted, edge_in_words

_SIZE = 9.5


def add_edges(pages: Pages, index: PlanIndex, level: str) -> None:
    """The level's edges and the taped joints where its runs meet; nothing where no run joins another."""
    plan = index.plan
    junctions = [one for one in plan.junctions if one.level == level]
    edges = [edge for edge in plan.project.building.edges if edge.level == level]
    if not any(run.joins for run in plan.project.runs if run.level == level):
        return
    pages.heading("Edges, and where runs meet", 12, keep_with=40 + 14 * len(junctions))
    for edge in edges:
        pages.words(f"•  {index.text(edge_in_words(edge))}", _SIZE + 0.5, after=1.5)
    wide = pages.content_width
    columns = [
        Column("end of run", wide * 0.3), Column("start of run", wide * 0.3),
        Column("gap at the joint", wide * 0.2, "end"), Column("tape, all faces", wide * 0.2, "end"),
    ]  # fmt: skip
    rows = [
        (index.text(one.run), index.text(one.joins), f"{one.gap_mm}", f"{one.tape_mm}") for one in junctions
    ]
    if rows:
        pages.table(columns, rows, _SIZE)


def add_moved_brackets(pages: Pages, index: PlanIndex, level: str) -> None:
    """The level's brackets that a mullion keeps from their place, by how much, and what would mend it."""
    moved = [one for one in index.plan.brackets_moved if one.level == level]
    if not moved:
        return
    pages.heading("Brackets farther than the detail says", 12, keep_with=70)
    pages.words(
        f"{counted(len(moved), 'bracket')} cannot stand where the detail has it, because of a mullion. The tested"
        " detail and the licensed practitioner decide whether it may be built so: ask before fixing. What would mend"
        " each stands in the office's workbook.",
        _SIZE + 0.5,
        bold=True,
    )
    half = (pages.content_width - 14) / 2
    columns = [
        Column("piece", half * 0.29), Column("at", half * 0.17, "end"),
        Column("stands from", half * 0.38), Column("too far by", half * 0.16, "end"),
    ]  # fmt: skip
    pieces = {piece.id: piece for piece in index.plan.pieces}
    rows = [
        (
            index.text(one.piece),
            f"{one.at_mm}",
            f"{one.distance_mm} from {_measured_from(one, pieces.get(one.piece))}",
            f"{one.by_mm}",
        )
        for one in moved
    ]
    pages.table(*side_by_side(columns, rows, pages.content_width, few=2), _SIZE)


def _measured_from(moved: MovedBracket, piece: PlannedPiece | None) -> str:
    """What a bracket stands too far from: an end of its piece, or the bracket before it."""
    if moved.beyond == "spacing":
        return "the last"
    return "its start" if moved.from_start(piece) else "its end"

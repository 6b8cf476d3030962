"""What a level's crew must know before its runs: which edges they make up, where runs meet, and which brackets stand
farther than the detail says."""

from __future__ import annotations

from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.words import counted, edge_in_words

_SIZE = 8.0


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
        " detail and the licensed practitioner decide whether it may be built so: ask before fixing.",
        _SIZE + 0.5,
        bold=True,
    )
    wide = pages.content_width
    columns = [
        Column("piece", wide * 0.16), Column("at, from the run's start", wide * 0.11, "end"),
        Column("stands from", wide * 0.16), Column("too far by", wide * 0.08, "end"),
        Column("what would mend it", wide * 0.49),
    ]  # fmt: skip
    rows = [
        (
            index.text(one.piece),
            f"{one.at_mm}",
            f"{one.distance_mm} from {'the piece end' if one.beyond == 'end distance' else 'the one before'}",
            f"{one.by_mm}",
            index.text(one.mend),
        )
        for one in moved
    ]
    pages.table(columns, rows, _SIZE)

"""What to carry to each run of a level, in the order in which the runs are fitted."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import run_view
from optimiser.writing.drawing.shapes import FIGURES, text_width

_SIZE = 11.0


@dataclass(frozen=True, slots=True)
class Kit:
    """What a run takes: pieces, brackets by size, anchors, and tape for its joints and its junction, in mm."""

    run: str
    pieces: int
    brackets: tuple[tuple[str, int], ...]
    anchors: int
    joints: int
    tape_mm: int


def kits_of(index: PlanIndex, level: str) -> tuple[Kit, ...]:
    """The runs of a level in fitting order, which is that of the runs table; those without pieces are left out."""
    found = []
    for run in index.plan.project.runs:
        pieces = index.pieces_of_run.get(run.run, ())
        if run.level != level or not pieces:
            continue
        brackets: Counter[str] = Counter()
        for piece in pieces:
            if piece.bracket:
                brackets[piece.bracket] += len(piece.brackets_at_mm)
        view = run_view(index, run.run)
        detail = index.plan.project.building.detail_of(run.run)
        tape = sum(joint.tape_mm for joint in view.joints)
        met = view.ends_at
        found.append(
            Kit(
                run.run,
                len(pieces),
                tuple(sorted(brackets.items())),
                brackets.total() * detail.anchors_per_bracket,
                len(view.joints) + (met is not None),
                tape + (met.tape_mm if met else 0),
            )
        )
    return tuple(found)


def add_kitting_list(pages: Pages, index: PlanIndex, level: str) -> None:
    """A row a run, and one for the level together."""
    kits = kits_of(index, level)
    if not kits:
        return
    codes = [code for code in index.plan.bracket_codes if any(code in dict(kit.brackets) for kit in kits)]
    pages.heading("To carry to each run, in fitting order", FIGURES, keep_with=60)
    names = max(text_width(index.text(kit.run), _SIZE, True) for kit in kits) + 10
    columns = [
        Column("run", min(max(names, 72.0), 130.0)),
        Column("pieces", 52, "end"),
        *(
            Column(index.text(code), max(38.0, text_width(index.text(code), _SIZE, True) + 8), "end")
            for code in codes
        ),
        Column("anchors", 56, "end"),
        Column("joints", 46, "end"),
        Column("tape, m", 54, "end"),
    ]
    rows = [
        (
            index.text(kit.run),
            f"{kit.pieces}",
            *(f"{dict(kit.brackets).get(code, 0) or ''}" for code in codes),
            f"{kit.anchors}",
            f"{kit.joints}",
            f"{kit.tape_mm / 1000:.2f}",
        )
        for kit in kits
    ]
    if len(kits) > 1:
        rows.append(
            (
                "together",
                f"{sum(kit.pieces for kit in kits)}",
                *(f"{sum(dict(kit.brackets).get(code, 0) for kit in kits)}" for code in codes),
                f"{sum(kit.anchors for kit in kits)}",
                f"{sum(kit.joints for kit in kits)}",
                f"{sum(kit.tape_mm for kit in kits) / 1000:.2f}",
            )
        )
    total = sum(column.width for column in columns)
    size = _SIZE
    if total > pages.content_width:  # many bracket sizes
        columns = [column._replace(width=column.width * pages.content_width / total) for column in columns]
        size = 9.0
    pages.table(columns, rows, size, bold_rows=lambda row: row == len(kits))

"""What a level's crew measures before anything is cut: where a change of the gap matters first.

A cut width w serves every gap from w / (1 + oversize_max) to w / (1 + oversize_min), by the compression
window of the detail (common practice, no source; the tested detail decides). Worked out in exact fractions.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import NamedTuple

from optimiser.model.planned_pieces import PlannedPiece
from optimiser.survey.gap_line import GapAlongRun
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.shapes import FIGURES
from optimiser.writing.words import counted

_MOST = 4  # pieces that are named
_SIZE = 10.0


class ServedGaps(NamedTuple):
    """The least and the widest gap that a piece's cut width serves, exactly, in mm."""

    least: Fraction
    most: Fraction

    @property
    def words(self) -> str:
        """'145-150': the gaps in whole millimetres, as they are measured."""
        return f"{ceil(self.least)}-{floor(self.most)}"

    @property
    def to_a_tenth(self) -> str:
        """'164-170.9': beside surveyed gaps that are given to a tenth of a millimetre."""
        least, most = ceil(self.least * 10), floor(self.most * 10)
        return "-".join(f"{Decimal(gap) / 10:f}".removesuffix(".0") for gap in (least, most))

    def spare_mm(self, gap: SurveyedGap) -> Fraction:
        """By how much the gap may change at its worse side before the piece no longer fits."""
        return min(gap.least_mm - self.least, self.most - gap.most_mm)


class SurveyedGap(NamedTuple):
    """The least and the widest gap along a piece, exactly, by the readings and straight between them, in mm."""

    least_mm: Fraction
    most_mm: Fraction

    @property
    def words(self) -> str:
        """'148 to 150.5', or '150' where it does not change along the piece."""
        least, most = (f"{float(gap):.1f}".removesuffix(".0") for gap in self)
        return least if least == most else f"{least} to {most}"


def surveyed_gap(along: GapAlongRun, piece: PlannedPiece) -> SurveyedGap:
    """The gap along a piece, by the readings of its run."""
    places = (piece.from_mm, *along.knots_inside(piece.from_mm, piece.to_mm), piece.to_mm)
    gaps = [along.at(at) for at in places]
    return SurveyedGap(min(gaps), max(gaps))


def served_gaps(index: PlanIndex, piece: PlannedPiece) -> ServedGaps | None:
    """The gaps that a straight piece serves; None for a tapered one, whose gap differs along it."""
    if piece.tapered:
        return None
    detail = index.plan.project.building.detail_of(piece.run)
    width = piece.cut_width_start_mm
    return ServedGaps(
        width / (1 + Fraction(detail.oversize_max)), width / (1 + Fraction(detail.oversize_min))
    )


def add_measure_first(pages: Pages, index: PlanIndex, level: str) -> None:
    """The level's pieces that the least change of their gap makes unfit: measure the gap there first."""
    pieces = []
    for run in index.plan.project.runs:
        if run.level == level:
            along = GapAlongRun.of(index.gaps_of_run[run.run])
            for piece in index.pieces_of_run.get(run.run, ()):
                served = served_gaps(index, piece)
                if served is not None and not piece.done:
                    gap = surveyed_gap(along, piece)
                    pieces.append((served.spare_mm(gap), piece, served, gap))
    if not pieces:
        return
    pieces.sort(key=lambda found: (found[0], found[1].id))
    alike = sum(spare < 1 for spare, *_ in pieces)
    pages.heading("Measure first", FIGURES, keep_with=80)
    pages.words(
        "Measure the gap at every piece before it is cut: a piece cut too small is scrap. Begin here, where the least"
        f" change matters: {counted(alike, 'piece')} {'has' if alike == 1 else 'have'} less than 1 mm to spare"
        f"{f', of these the first {_MOST}' if alike > _MOST else ''}.",
        _SIZE,
    )
    wide = pages.content_width
    columns = [
        Column("piece", wide * 0.24), Column("from, from the run's start", wide * 0.2, "end"),
        Column("surveyed gap", wide * 0.18, "end"), Column("cut width", wide * 0.16, "end"),
        Column("serves gaps of", wide * 0.22, "end"),
    ]  # fmt: skip
    rows = [
        (
            index.text(piece.id),
            f"{piece.from_mm}",
            gap.words,
            f"{piece.cut_width_start_mm}",
            served.to_a_tenth,
        )
        for _, piece, served, gap in pieces[:_MOST]
    ]
    pages.table(columns, rows, _SIZE)

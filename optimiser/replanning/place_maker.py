"""The places of a run: a span, the widths that serve it as it is measured, the boards that take it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor

from optimiser.joints.layout import LaidPiece
from optimiser.kernels.reference.gap_line import GapLine, Rates, Widths
from optimiser.model.project import Board, Detail, Gap, Project, Run
from optimiser.model.sizes import Size
from optimiser.survey.compression import WidthRates, compression_window
from optimiser.survey.curves import longest_piece_mm
from optimiser.survey.gap_line import GapAlongRun, deciding_gaps


@dataclass(frozen=True)
class PlaceMaker:
    """Makes the places of a run from spans that one cut width serves, or a taper. `gaps` are in order of position."""

    survey: Project
    run: Run
    gaps: Sequence[Gap]

    @cached_property
    def along(self) -> GapAlongRun:
        """The gap along the run."""
        return GapAlongRun.of(self.gaps)

    @cached_property
    def rates(self) -> WidthRates:
        """Cut width over gap."""
        return WidthRates.of(self.detail)

    @cached_property
    def detail(self) -> Detail:
        """The detail that the run is built by."""
        return self.survey.building.detail_of(self.run.run)

    @cached_property
    def longest_mm(self) -> int:
        """The longest piece: as long as the longest board, on a curve no longer than its chord may be."""
        board = max(board.length_mm for board in self.boards)
        return min(board, longest_piece_mm(self.run, self.detail) or board)

    @cached_property
    def mullions(self) -> tuple[int, ...]:
        """Their positions, ascending."""
        return tuple(sorted(set(self.run.mullions_mm)))

    @cached_property
    def boards(self) -> tuple[Board, ...]:
        """The boards that may serve the run."""
        return tuple(self.survey.building.boards[code] for code in dict.fromkeys(self.run.board))

    def may_end_at(self, position_mm: int) -> bool:
        """Whether a piece may end there: at an end of the run, or clear of every mullion."""
        clear = self.detail.joint_to_mullion_min_mm
        return position_mm in (0, self.run.length_mm) or all(
            abs(mullion - position_mm) >= clear for mullion in self.mullions
        )

    def place(self, from_mm: int, to_mm: int) -> LaidPiece | None:
        """The place over a span, or None where no single width serves it or its gap is outside the range."""
        detail = self.detail
        least, greatest = self.along.extremes(from_mm, to_mm)
        if least < detail.gap_min_mm or greatest > detail.gap_max_mm:
            return None
        width_min, width_max = compression_window(self.rates, self.along, from_mm, to_mm)
        if width_min > width_max:
            return None
        return self._made(from_mm, to_mm, (width_min, width_max), (width_min, width_min))

    def tapered_place(self, from_mm: int, to_mm: int) -> LaidPiece | None:
        """The place of a tapered piece over a span, with the least end widths; None where a single width serves, where
        no taper that the detail allows does, or its gap is outside the range."""
        detail, length = self.detail, to_mm - from_mm
        least, greatest = self.along.extremes(from_mm, to_mm)
        if least < detail.gap_min_mm or greatest > detail.gap_max_mm:
            return None
        narrowest, widest = compression_window(self.rates, self.along, from_mm, to_mm)
        board = max((board.width_mm for board in self.boards if board.length_mm >= length), default=0)
        if narrowest <= widest or not board or not detail.taper_max_mm:
            return None
        ends = self._widths.taper(from_mm, to_mm, board, detail.taper_max_mm)
        return None if ends is None else self._made(from_mm, to_mm, (max(ends), max(ends)), ends)

    @cached_property
    def _widths(self) -> Widths:
        line = GapLine(self.along.at_mm, self.along.gap_mm)
        rates = Rates(self.rates.unit, self.rates.least, self.rates.greatest)
        return Widths(line, self.run.length_mm, rates)

    def _made(
        self, from_mm: int, to_mm: int, window: tuple[int, int], ends: tuple[int, int]
    ) -> LaidPiece | None:
        """The place with a window and the least end widths; None where no board takes it."""
        detail, (width_min, width_max) = self.detail, window
        least, greatest = self.along.extremes(from_mm, to_mm)
        boards = tuple(
            board.code for board in self.boards if board.size.holds(Size(to_mm - from_mm, width_min))
        )
        if not boards or to_mm - from_mm > self.longest_mm:
            return None
        deciding = deciding_gaps(self.gaps, from_mm, to_mm)
        return LaidPiece(
            run=self.run.run,
            level=self.run.level,
            index=0,
            from_mm=from_mm,
            to_mm=to_mm,
            gap_min_mm=floor(least),
            gap_max_mm=ceil(greatest),
            width_min_mm=width_min,
            width_max_mm=width_max,
            width_start_mm=ends[0],
            width_end_mm=ends[1],
            tapered=ends[0] != ends[1],
            short=to_mm - from_mm < detail.piece_length_min_mm,
            boards=boards,
            mullions_mm=tuple(m for m in self.mullions if from_mm < m < to_mm),
            basis="nominal" if any(gap.basis == "nominal" for gap in deciding) else "measured",
        )

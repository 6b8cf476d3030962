"""A plan laid beside its project, so that every rule finds what it needs by name."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from optimiser.checking.gap_line import GapLine
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.project import Anchor, Board, Detail, Kind, Level, Product, Project, Run, Stock, Tape

Stretch = PlannedPiece | NotPlanned


class Building:
    """Look-ups over a project and its plan. Nothing here judges, and unknown names are simply absent."""

    def __init__(self, project: Project, plan: Plan) -> None:
        self.project = project
        self.plan = plan
        self.products: dict[str, Product] = {product.code: product for product in project.products}
        self.levels: dict[str, Level] = {level.level: level for level in project.levels}
        self.runs: dict[str, Run] = {run.run: run for run in project.runs}
        self.pieces: dict[str, PlannedPiece] = {piece.id: piece for piece in plan.pieces}
        # A piece that is cut or fitted takes no board any more.
        self.open_pieces = [piece for piece in plan.pieces if piece.status == "planned"]
        # The rows of the stock table by the name that a layout gives them.
        self.stock: dict[str, Stock] = {
            row.name or f"stock-{n}": row for n, row in enumerate(project.stock, start=1)
        }

    def detail_of(self, run: str) -> Detail:
        """The detail that a run is built by; of an unknown run, or a detail that there is not, the project's own."""
        found = self.runs.get(run)
        return self.project.details.get(found.detail, self.project.detail) if found else self.project.detail

    def rules_of_cutting(self, code: str) -> Detail:
        """The detail whose kerf and trimming hold for boards of a code: that of the first run which they serve."""
        return self.detail_of(self._served_first.get(code, ""))

    @cached_property
    def _served_first(self) -> dict[str, str]:
        """The first run that each board serves."""
        found: dict[str, str] = {}
        for run in self.project.runs:
            for code in run.board:
                found.setdefault(code, run.run)
        return found

    @cached_property
    def placeholders(self) -> set[tuple[str, str]]:
        """(detail's name, rule) of every rule in use that stands at a placeholder; '' is the project's own detail."""
        return {
            (run.detail, rule)
            for run in self.project.runs
            for rule in self.detail_of(run.run).placeholders
            if rule != "curve_offset_max_mm" or run.radius_mm is not None
        }

    @cached_property
    def gap_lines(self) -> dict[str, GapLine]:
        """The gap along every run."""
        gaps = defaultdict(list)
        for gap in self.project.gaps:
            gaps[gap.run].append(gap)
        return {run: GapLine(gaps[run], self.detail_of(run)) for run in self.runs}

    @cached_property
    def bases(self) -> dict[str, set[str]]:
        """How the gaps of every run are known: measured, nominal, or some of each."""
        bases: dict[str, set[str]] = defaultdict(set)
        for gap in self.project.gaps:
            bases[gap.run].add(gap.basis)
        return bases

    @cached_property
    def forecast(self) -> frozenset[str]:
        """The levels that are not wholly measured: a gap of one of their runs is nominal."""
        return frozenset(run.level for run in self.project.runs if "nominal" in self.bases[run.run])

    @cached_property
    def simulated(self) -> bool:
        """Whether the survey leaves anything to draw: a nominal gap has a tolerance."""
        return any(gap.basis == "nominal" and gap.tolerance_mm for gap in self.project.gaps)

    @cached_property
    def levels_as_served(self) -> list[Level]:
        """The levels in the order in which packs serve them: of one delivery the measured ones first."""
        return sorted(self.levels_in_order, key=lambda level: (level.sequence, level.level in self.forecast))

    @cached_property
    def levels_in_order(self) -> list[Level]:
        """The levels in delivery order; equal sequences as the table has them."""
        return sorted(self.project.levels, key=lambda level: level.sequence)

    @cached_property
    def sequences(self) -> list[int]:
        """The distinct sequence numbers, earliest first."""
        return sorted({level.sequence for level in self.project.levels})

    def carried(self, from_sequence: int, to_sequence: int) -> int:
        """How many deliveries lie after the first and up to the second, negative when it is the earlier."""
        if to_sequence < from_sequence:
            return -self.carried(to_sequence, from_sequence)
        return sum(from_sequence < sequence <= to_sequence for sequence in self.sequences)

    def sequence_of(self, piece: PlannedPiece) -> int | None:
        """When a piece's level is delivered."""
        level = self.levels.get(piece.level)
        return None if level is None else level.sequence

    def along(self, run: str) -> Sequence[Stretch]:
        """A run's pieces and the stretches that no piece is planned for, in order of position."""
        return self._along.get(run, ())

    @cached_property
    def _along(self) -> dict[str, list[Stretch]]:
        found: dict[str, list[Stretch]] = defaultdict(list)
        for piece in self.plan.pieces:
            found[piece.run].append(piece)
        for stretch in self.plan.not_planned:
            if stretch.what == "piece":
                found[stretch.run].append(stretch)
        return {
            run: sorted(stretches, key=lambda s: (s.from_mm, s.to_mm)) for run, stretches in found.items()
        }

    def joints(self) -> list[tuple[PlannedPiece, PlannedPiece]]:
        """Every butt joint: two pieces of a run, the second beginning where the first ends."""
        return [
            (left, right)
            for stretches in self._along.values()
            for left, right in pairwise(stretches)
            if isinstance(left, PlannedPiece)
            and isinstance(right, PlannedPiece)
            and left.to_mm == right.from_mm
        ]

    @cached_property
    def bracket_reaches(self) -> list[tuple[str, int]]:
        """The bracket products, code and reach."""
        return [(p.code, p.reach_mm) for p in self.project.products if p.kind == "bracket"]

    @property
    def first_anchor(self) -> Anchor | None:
        """The first anchor in the catalogue."""
        return next((product for product in self.project.products if product.kind == "anchor"), None)

    @property
    def first_tape(self) -> Tape | None:
        """The first tape in the catalogue."""
        return next((product for product in self.project.products if product.kind == "tape"), None)

    def allowance_of(self, kind: Kind) -> Fraction:
        """The allowance for breakage and loss of a kind of product; one that is simulated adds none by itself."""
        for row in self.project.allowance:
            if row.kind == kind and not isinstance(row.fraction, str):
                return Fraction(row.fraction)
        return Fraction(0)

    def boards_of(self, run: Run) -> list[Board]:
        """The board products that may serve a run."""
        found = [self.products[code] for code in run.board if code in self.products]
        return [product for product in found if product.kind == "board"]


def named(piece: PlannedPiece) -> str:
    """How a line names a piece."""
    return f"run {piece.run}, piece {piece.id}"


def clear_of_mullions(position: int, run: Run, distance: int) -> bool:
    """Whether a position of a run is at least `distance` from every mullion."""
    return all(abs(position - mullion) >= distance for mullion in run.mullions_mm)

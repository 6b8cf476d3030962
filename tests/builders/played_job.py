"""A job on site played week by week: short and damaged deliveries, spoilt pieces, levels measured as they come due.

The crew works by the newest plan and opens a whole board only while one is on site; a supplier brings what was issued.
Everything is drawn from one seed.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.solve import solve
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.planning.plan import plan
from optimiser.replanning.replan import replan
from tests.builders.job import JobOnSite
from tests.builders.rising_building import FIRST_WEEK, RisingBuilding

MEASURED_AHEAD = 3  # weeks before a level is needed
SHORT, DAMAGED, SPOILT, FITTED_AT_ONCE = 0.3, 0.25, 0.03, 0.85


@dataclass(frozen=True)
class OnItsWay:
    """What was issued for a level and is still to come, in single units."""

    arrives: date
    level: str
    code: str
    quantity: int


@dataclass
class PlayedJob:
    """`made` is the newest plan; `cut` every piece that was ever cut, as it was then; `issued` single units by level
    and code; `lost_boards` whole ones that came damaged, by code."""

    building: RisingBuilding
    draw: random.Random
    made: Plan
    measured: set[str]
    job: JobOnSite = field(default_factory=JobOnSite)
    on_its_way: list[OnItsWay] = field(default_factory=list)
    whole_on_site: Counter[str] = field(default_factory=Counter)
    issued: Counter[tuple[str, str]] = field(default_factory=Counter)
    issued_last: Counter[tuple[str, str]] = field(default_factory=Counter)
    cut: dict[str, PlannedPiece] = field(default_factory=dict)
    spoilt: set[str] = field(default_factory=set)
    lost_remainders: set[str] = field(default_factory=set)
    discarded: set[str] = field(default_factory=set)
    lost_boards: Counter[str] = field(default_factory=Counter)

    @classmethod
    def begun(cls, building: RisingBuilding, seed: int) -> PlayedJob:
        """Measured so far ahead, planned and ordered before the first week."""
        measured = {
            level.level for level in building.drawn.levels if _week_of(level.needed_on) <= MEASURED_AHEAD
        }
        made = plan(building.survey(measured), advise=False)
        job = cls(building, random.Random(seed), made, measured)
        job.issue(0)
        return job

    # -- the office

    def issue(self, week: int) -> None:
        """Firm lines whose order day comes within a week are ordered."""
        until = monday(week) + timedelta(days=14)
        self.issued_last = Counter()
        for line in self.made.order.lines:
            if line.packs and line.status == "firm" and (line.order_by is None or line.order_by < until):
                units = line.packs * line.per_pack
                self.job.write("ordered", code=line.code, quantity=units, level=line.level)
                self.issued_last[line.level, line.code] += units
                arrives = max(line.deliver_on or monday(week), monday(week + 1))
                self.on_its_way.append(OnItsWay(arrives, line.level, line.code, units))
        self.issued += self.issued_last

    def measure_ahead(self, week: int) -> None:
        """The levels that are needed so many weeks later are measured."""
        for level in self.building.drawn.levels:
            if level.level not in self.measured and _week_of(level.needed_on) <= week + MEASURED_AHEAD:
                self.measured.add(level.level)
                self.job.write("measured", level=level.level)

    def replan(self, week: int) -> Plan:
        """The next plan, from everything on record and the newest survey; then its orders go out."""
        self.made = replan(self.made, self.job.record, self.building.survey(self.measured))
        self.discarded |= {item.name for item in self.made.job.discarded}
        self.issue(week)
        return self.made

    # -- the site

    def deliver(self, week: int) -> None:
        """What is due by the end of a week arrives; at times one or two boards too few, or one damaged."""
        boards = self.building.drawn.building.boards
        due = [one for one in self.on_its_way if one.arrives < monday(week + 1)]
        self.on_its_way = [one for one in self.on_its_way if one.arrives >= monday(week + 1)]
        for one in due:
            short = 0
            if one.code in boards and self.draw.random() < SHORT:
                short = min(self.draw.randint(1, 2), one.quantity - 1)
            if short:
                self.on_its_way.append(replace(one, arrives=monday(week + 1), quantity=short))
            came = one.quantity - short
            self.job.write("delivered", code=one.code, level=one.level, quantity=came)
            if one.code in boards:
                self.whole_on_site[one.code] += came
                if self.draw.random() < DAMAGED:
                    self.job.write("scrapped", code=one.code, quantity=1, note="corner crushed")
                    self.whole_on_site[one.code] -= 1
                    self.lost_boards[one.code] += 1

    def work(self, week: int) -> None:
        """Pieces of the levels that are due are cut, as far as whole boards are there, and most are fitted."""
        due = {
            level.level
            for level in self.building.drawn.levels
            if _week_of(level.needed_on) <= week and level.level in self.measured
        }
        pieces = {piece.id: piece for piece in self.made.pieces}
        for piece in pieces.values():
            if piece.status == "cut" and piece.level in due:
                self.job.write("fitted", piece=piece.id)
        for _, layout in sorted(self.made.numbered_layouts):
            wanted = [
                cut.id for strip in layout.strips for cut in strip.pieces if pieces[cut.id].level in due
            ]
            if wanted and layout.cut_ready and self._opens(layout):
                for name in wanted:
                    self._cut(pieces[name])

    def _opens(self, layout: PlannedPattern) -> bool:
        """Whether what a layout is cut from is there; a whole board is taken from those on site."""
        kind = {item.name: item.kind for item in self.made.job.at_hand}.get(layout.stock)
        if kind not in (None, "on site", "on order"):
            return layout.stock not in self.lost_remainders
        if self.whole_on_site[layout.code] <= 0:
            return False
        self.whole_on_site[layout.code] -= 1
        return True

    def _cut(self, piece: PlannedPiece) -> None:
        self.job.write("cut", piece=piece.id)
        assert piece.id not in self.cut, f"{piece.id} is cut twice"
        self.cut[piece.id] = piece
        if self.draw.random() < SPOILT:
            self.job.write("scrapped", piece=piece.id)
            self.spoilt.add(piece.id)
        elif self.draw.random() < FITTED_AT_ONCE:
            self.job.write("fitted", piece=piece.id)

    def lose_a_remainder(self) -> str | None:
        """One of the remainders on the rack is gone, the largest of three."""
        racked = [item for item in self.made.job.at_hand if item.kind == "remainder"]
        if not racked:
            return None
        chosen = self.draw.sample(racked, min(3, len(racked)))
        lost = max(chosen, key=lambda item: item.length_mm * item.width_mm)
        self.job.write("scrapped", board=lost.name, note="not found")
        self.lost_remainders.add(lost.name)
        return lost.name

    def measured_again(self, level: str, most_mm: int = 5) -> None:
        """A level's gaps are found to be other than they were; what is fitted there stays."""
        self.building = self.building.measured_again(level, self.draw, most_mm)
        self.job.write("measured", level=level)

    # -- hindsight

    @property
    def boards_opened(self) -> int:
        """Boards that were bought and opened."""
        return sum(board.bought for board in self.made.job.cut_boards)

    def boards_in_hindsight(self) -> tuple[int, int]:
        """How many boards every piece that was ever cut takes when all are known at once, and the proved bound."""
        board = next(iter(self.building.drawn.boards))
        stage = self.building.drawn.building.stage_of_level
        problem = CuttingProblem(
            boards=(Board(code=board.code, length_mm=board.length_mm, width_mm=board.width_mm),),
            pieces=tuple(_as_cut(piece, stage[piece.level], board.width_mm) for piece in self.cut.values()),
            trim=True,
            objective=Objective.FEWEST_BOARDS,
        )
        found = solve(problem, waiting=False)
        return found.boards, found.lower_bound


def monday(week: int) -> date:
    """The first day of a week of the job, which counts from 1."""
    return FIRST_WEEK + timedelta(weeks=week - 1)


def _week_of(day: date | None) -> int:
    assert day is not None
    return (day - FIRST_WEEK).days // 7 + 1


def _as_cut(piece: PlannedPiece, stage: int, widest: int) -> Piece:
    tapered = piece.tapered
    return Piece(
        id=piece.id,
        length_mm=piece.length_mm,
        width_min_mm=piece.width_min_mm,
        width_max_mm=widest if tapered else piece.width_max_mm,
        stage=stage,
        width_start_mm=piece.cut_width_start_mm if tapered else None,
        width_end_mm=piece.cut_width_end_mm if tapered else None,
    )

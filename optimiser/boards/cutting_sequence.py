"""What is cut when: each board opened at its first delivery, ripped so far as that needs, and racked again.

Nothing is cut before its delivery. What a later delivery needs stays in a remainder, which has a name, and is
cut again when that delivery is due, until the board is used up. Every step accounts for all of its area:
what is taken = pieces + remainders + left-overs + kerf + scrap, to the mm2.
(Keeping partly cut objects for later periods: Arenales, Cherri, do Nascimento and Vianna, Pesquisa Operacional
35, 2015.)
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Protocol

from optimiser.boards.delivery_order import Slot, first_need, in_delivery_order, slots_of
from optimiser.cutting.problem import CuttingPattern, Strip
from optimiser.model.immutable import Immutable
from optimiser.model.plan import PlannedPattern, numbered
from optimiser.model.project import Project
from optimiser.model.remainder import Remainder, RemainderKind
from optimiser.model.sizes import Size
from optimiser.model.staging import DeliverySequence


class PieceOfLevel(Protocol):
    """What the sequence asks of a piece: a `PlannedPiece` tells it."""

    @property
    def id(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def cut_width_start_mm(self) -> int: ...
    @property
    def cut_width_end_mm(self) -> int: ...


class SizeLeft(Protocol):
    """A size that is kept when a board leaves it: a `LeftOver` and a `UsableLeftOver` both tell it."""

    @property
    def code(self) -> str: ...
    @property
    def stage(self) -> DeliverySequence: ...
    @property
    def length_mm(self) -> int: ...
    @property
    def width_mm(self) -> int: ...


@dataclass(frozen=True, slots=True)
class Rest:
    """A rectangle that nothing more is planned for: a left-over to keep, or scrap. Sizes in mm."""

    length_mm: int
    width_mm: int
    keep: bool


@dataclass(frozen=True, slots=True)
class Areas:
    """Where a step's area goes, in mm2: `taken` is the sum of the others. A taper's area may end in a half.

    `scrap`: what is trimmed beside pieces, and rests too small to keep.
    """

    taken: Fraction
    pieces: Fraction
    remainders: Fraction
    left_overs: Fraction
    kerf: Fraction
    scrap: Fraction


@dataclass(frozen=True, slots=True)
class StripCut:
    """A strip, or the rest of one, as it is cut in one step.

    `strip` counts the board's strips from the datum edge (from 0), and `numbers` the pieces cut now among the
    `pieces_in_all` of the whole strip (from 1). `length_mm` and `width_mm` are what there is of it now. `slots`
    are cut now, from its datum end; of a pair for two deliveries only the piece that is needed now is in its
    slot, and what waits of it is in `halves`, which has an entry a slot. `rest` is what waits at its far end,
    `end` what is over.
    """

    strip: int
    numbers: tuple[int, ...]
    pieces_in_all: int
    length_mm: int
    width_mm: int
    slots: tuple[Slot, ...]
    halves: tuple[Remainder | None, ...]
    rest: Remainder | None
    end: Rest | None


@dataclass(frozen=True, slots=True)
class CuttingStep:
    """What is cut from one board or remainder with one delivery.

    `taken` is the remainder that comes from the rack, None where the board is opened; `length_mm` and `width_mm`
    are its size. `rest` is what waits of its full width, `edge` what is over there. `levels` are those whose
    pieces are cut, in delivery order.
    """

    stage: DeliverySequence
    levels: tuple[str, ...]
    board: str
    layout: int
    stock: str
    code: str
    on_site: bool
    taken: Remainder | None
    length_mm: int
    width_mm: int
    strips: tuple[StripCut, ...]
    rest: Remainder | None
    edge: Rest | None
    areas: Areas

    @property
    def name(self) -> str:
        """The name of what is cut: the board's, or the remainder's."""
        return self.taken.name if self.taken else self.board

    @property
    def kept(self) -> tuple[Remainder, ...]:
        """The remainders that go on the rack, in the order of their names."""
        parts = [self.rest, *(part for strip in self.strips for part in (strip.rest, *strip.halves))]
        return tuple(part for part in parts if part is not None)

    @property
    def left_overs(self) -> tuple[Rest, ...]:
        """What is over and large enough to keep."""
        rests = (self.edge, *(strip.end for strip in self.strips))
        return tuple(rest for rest in rests if rest is not None and rest.keep)

    @property
    def pieces(self) -> tuple[str, ...]:
        """The ids of the pieces that are got, in the order of cutting."""
        return tuple(piece.id for strip in self.strips for slot in strip.slots for piece in slot)


@dataclass(frozen=True)
class CuttingSequence:
    """All steps of a plan, in the order of work: delivery by delivery, board by board."""

    steps: tuple[CuttingStep, ...]

    @cached_property
    def remainders(self) -> tuple[Remainder, ...]:
        """Every remainder that is ever racked, board by board in the order in which they are kept."""
        return tuple(part for step in sorted(self.steps, key=_by_board) for part in step.kept)

    @cached_property
    def _by_stage(self) -> dict[DeliverySequence, tuple[CuttingStep, ...]]:
        found: dict[DeliverySequence, list[CuttingStep]] = {}
        for step in self.steps:
            found.setdefault(step.stage, []).append(step)
        return {stage: tuple(steps) for stage, steps in found.items()}

    @property
    def stages(self) -> tuple[DeliverySequence, ...]:
        """The deliveries with which anything is cut, the levels' own sequence numbers."""
        return tuple(sorted(self._by_stage))

    def with_delivery(self, stage: DeliverySequence) -> tuple[CuttingStep, ...]:
        """What is cut with a delivery: the boards that are opened first, then the remainders that are taken."""
        return self._by_stage.get(stage, ())

    def on_rack_after(self, stage: DeliverySequence) -> tuple[Remainder, ...]:
        """The remainders that stand on the rack when a delivery is cut."""
        return tuple(part for part in self.remainders if part.stage <= stage < part.cut_stage)


def _by_board(step: CuttingStep) -> tuple[int, str, int]:
    return step.layout, step.board, step.stage


def cutting_sequence(
    project: Project,
    pieces: Iterable[PieceOfLevel],
    layouts: Sequence[PlannedPattern],
    left_over: Iterable[SizeLeft] = (),
) -> CuttingSequence:
    """The steps in which a plan's layouts are cut; `left_over` are the sizes that are kept of what is over.

    A layout is cut in the order of delivery, also where its strips do not stand so. Boards are named after their
    layout's number: B017 is the 17th's, S017 one that was on site; of several alike the others are B017.2, .3.
    A board is opened with the first delivery that needs it. Raises KeyError for a piece or a stock that the plan
    does not have.
    """
    on_site = project.building.stock
    lookup = _Lookup.of(project, pieces, left_over)
    digits = max([3, *(len(str(number)) for number, _ in numbered(layouts))])
    steps: list[CuttingStep] = []
    for number, layout in numbered(layouts):

        def due(piece: str, came: DeliverySequence = layout.sequence) -> int:
            return max(came, lookup.stage_of[piece])

        in_order = in_delivery_order(layout, due)
        for copy in range(1, layout.repeat + 1):
            name = _name(project, layout, f"{number:0{digits}d}", copy)
            steps += _Board(
                lookup,
                in_order,
                number,
                name,
                layout.stock in on_site,
                project.building.size_of_stock[layout.stock],
                project.building.cutting_rules_of(layout.code or layout.stock).kerf_mm,
            ).steps()
    steps.sort(key=lambda step: (step.stage, step.taken is not None))
    return CuttingSequence(tuple(steps))


def _name(project: Project, layout: PlannedPattern, number: str, copy: int) -> str:
    """What is written on a board: B017; on stock of the table S017; a remainder keeps the name that it has."""
    row = project.building.stock.get(layout.stock)
    more = f".{copy}" if copy > 1 else ""
    if row is None or (row.name and row.size == project.building.boards[row.code].size):
        return f"B{number}{more}"
    return layout.stock if row.name else f"S{number}{more}"


@dataclass(frozen=True)
class _Lookup:
    """What is looked up of a plan: the delivery, level and end widths of each piece, and the sizes kept."""

    stage_of: Mapping[str, DeliverySequence]
    level_of: Mapping[str, str]
    ends_of: Mapping[str, tuple[int, int]]
    place_of_level: Mapping[str, int]
    kept_sizes: frozenset[tuple[str, DeliverySequence, Size]]

    @classmethod
    def of(cls, project: Project, pieces: Iterable[PieceOfLevel], left_over: Iterable[SizeLeft]) -> _Lookup:
        sequence = project.building.sequence_of_level
        pieces = list(pieces)
        return cls(
            stage_of={piece.id: sequence[piece.level] for piece in pieces},
            level_of={piece.id: piece.level for piece in pieces},
            ends_of={piece.id: (piece.cut_width_start_mm, piece.cut_width_end_mm) for piece in pieces},
            place_of_level=project.building.place_of_level,
            kept_sizes=frozenset(
                (item.code, item.stage, Size(item.length_mm, item.width_mm)) for item in left_over
            ),
        )

    def levels(self, ids: Iterable[str]) -> tuple[str, ...]:
        """The levels of pieces, in delivery order."""
        return tuple(sorted({self.level_of[name] for name in ids}, key=self.place_of_level.__getitem__))

    def twice_area(self, name: str, length_mm: int) -> int:
        """Twice a piece's face area, in mm2."""
        return sum(self.ends_of[name]) * length_mm


@dataclass(frozen=True)
class _StripLeft:
    """What is left of a board's strip `strip` to be cut: its slots, the first piece of which is its `first`th."""

    strip: int
    first: int
    slots: tuple[Slot, ...]

    @property
    def ids(self) -> tuple[str, ...]:
        """The pieces that are still in it."""
        return tuple(piece.id for slot in self.slots for piece in slot)


@dataclass(frozen=True)
class _Part:
    """What is left of a board to be cut: strips not ripped yet, the rest of one strip, or half a pair."""

    kind: RemainderKind
    strips: tuple[_StripLeft, ...]
    length_mm: int
    width_mm: int
    name: Remainder | None = None

    @property
    def ids(self) -> tuple[str, ...]:
        """The pieces that are still in it."""
        return tuple(piece for strip in self.strips for piece in strip.ids)


def _in_board_order(part: _Part) -> tuple[bool, int, int]:
    """The full width first, then the strips begun from the datum edge; so remainders get their numbers."""
    return part.kind != "board", part.strips[0].strip, part.strips[0].first


class _Board:
    """One board on its way through the deliveries."""

    def __init__(
        self,
        lookup: _Lookup,
        layout: PlannedPattern,
        number: int,
        name: str,
        on_site: bool,
        size: Size,
        kerf_mm: int,
    ) -> None:
        self.lookup, self.layout, self.number, self.name = lookup, layout, number, name
        self.on_site, self.kerf = on_site, kerf_mm
        self.size = size
        self.named = 0

    def steps(self) -> Iterator[CuttingStep]:
        """The board's steps, delivery by delivery."""
        strips = tuple(
            _StripLeft(at, 1, slots_of(strip)) for at, strip in enumerate(self.layout.strips) if strip.pieces
        )
        parts = [_Part("board", strips, *self.size)] if strips else []
        while parts:
            stage = min(self._due(part.ids) for part in parts)
            waiting: list[_Part] = []
            for part in parts:
                if self._due(part.ids) > stage:
                    waiting.append(part)
                else:
                    step, kept = self._cut(part, stage)
                    yield step
                    waiting += kept
            parts = sorted(waiting, key=_in_board_order)

    def _stage(self, piece: str) -> DeliverySequence:
        return max(self.layout.sequence, self.lookup.stage_of[piece])

    def _due(self, ids: Iterable[str]) -> DeliverySequence:
        return min(self._stage(piece) for piece in ids)

    def _width(self, strip: int) -> int:
        return self.layout.strips[strip].width_mm

    def _keep(
        self, part: _Part, of: _Part, stage: DeliverySequence, level: str, ends: tuple[int, int] | None = None
    ) -> _Part:
        """A part under the next name, with what its label says."""
        self.named += 1
        due = self._due(part.ids)
        remainder = Remainder(
            name=f"{self.name}-R{self.named}",
            board=self.name,
            layout=self.number,
            code=self.layout.code or self.layout.stock,
            kind=part.kind,
            length_mm=part.length_mm,
            width_mm=part.width_mm,
            width_start_mm=ends[0] if ends else None,
            width_end_mm=ends[1] if ends else None,
            cut_from=of.name.name if of.name else self.name,
            stage=stage,
            level=level,
            cut_stage=due,
            waits_for=self.lookup.levels(piece for piece in part.ids if self._stage(piece) == due)[0],
            pieces=len(part.ids),
        )
        return _Part(part.kind, part.strips, part.length_mm, part.width_mm, remainder)

    def _rest(self, length_mm: int, width_mm: int) -> Rest | None:
        if length_mm <= 0 or width_mm <= 0:
            return None
        code = self.layout.code or self.layout.stock
        return Rest(
            length_mm,
            width_mm,
            (code, self.layout.sequence, Size(length_mm, width_mm)) in self.lookup.kept_sizes,
        )

    def _cut(self, part: _Part, stage: DeliverySequence) -> tuple[CuttingStep, list[_Part]]:
        """One step: what is due is cut from a part, what is not is kept."""
        now = [strip for strip in part.strips if self._due(strip.ids) == stage]
        later = part.strips[len(now) :]
        levels = self.lookup.levels(piece for piece in part.ids if self._stage(piece) == stage)
        kept: list[_Part] = []
        rest: _Part | None = None
        edge: Rest | None = None
        kerf = 0
        if part.kind == "board":
            free = part.width_mm
            for strip in now:
                free -= self._width(strip.strip)
                lost = min(self.kerf, free)
                free -= lost
                kerf += lost * part.length_mm
            if later:
                rest = self._keep(_Part("board", later, part.length_mm, free), part, stage, levels[0])
                kept.append(rest)
            else:
                edge = self._rest(part.length_mm, free)
        cuts = [self._cut_strip(part, strip, stage, levels[0]) for strip in now]
        kept += [item for cut in cuts for item in cut.kept]
        strips = tuple(cut.made for cut in cuts)
        pieces = Fraction(sum(cut.twice_pieces for cut in cuts), 2)
        remainders = sum((item.name.area_mm2 for item in kept if item.name), Fraction(0))
        rests = [item for item in (edge, *(cut.made.end for cut in cuts)) if item is not None]
        step = CuttingStep(
            stage=stage,
            levels=levels,
            board=self.name,
            layout=self.number,
            stock=self.layout.stock,
            code=self.layout.code or self.layout.stock,
            on_site=self.on_site,
            taken=part.name,
            length_mm=part.length_mm,
            width_mm=part.width_mm,
            strips=strips,
            rest=rest.name if rest else None,
            edge=edge,
            areas=Areas(
                taken=part.name.area_mm2 if part.name else Fraction(part.length_mm * part.width_mm),
                pieces=pieces,
                remainders=remainders,
                left_overs=Fraction(sum(r.length_mm * r.width_mm for r in rests if r.keep)),
                kerf=Fraction(kerf + sum(cut.kerf for cut in cuts)),
                scrap=Fraction(sum(r.length_mm * r.width_mm for r in rests if not r.keep))
                + sum((cut.trimmed for cut in cuts), Fraction(0)),
            ),
        )
        return step, kept

    def _cut_strip(self, part: _Part, strip: _StripLeft, stage: DeliverySequence, level: str) -> _CutStrip:
        """A strip of a part: the slots that are due are cut from its datum end."""
        at = strip.strip
        in_all = len(self.layout.strips[at].pieces)
        if part.kind == "tapered":
            (slot,) = strip.slots
            twice = self.lookup.twice_area(slot[0].id, slot[0].length_mm)
            whole = part.name.area_mm2 if part.name else Fraction(0)
            size = part.length_mm, part.width_mm
            made = StripCut(at, (strip.first,), in_all, *size, strip.slots, (None,), None, None)
            return _CutStrip(made, (), twice, 0, whole - Fraction(twice, 2))
        width = self._width(at)
        now = [slot for slot in strip.slots if self._due(piece.id for piece in slot) == stage]
        later = strip.slots[len(now) :]
        free = part.length_mm
        kerf = twice_pieces = 0
        trimmed = Fraction(0)
        following = strip.first
        cut: list[Slot] = []
        numbers: list[int] = []
        split: dict[int, tuple[int, Slot]] = {}
        for place, slot in enumerate(now):
            length = slot[0].length_mm
            free -= length
            lost = min(self.kerf, free)
            free -= lost
            kerf += lost * width
            due = tuple(piece for piece in slot if self._stage(piece.id) == stage)
            twice = sum(self.lookup.twice_area(piece.id, length) for piece in due)
            twice_pieces += twice
            if len(due) < len(slot):
                split[place] = following + 1, slot
                kerf += self.kerf * length
            else:
                trimmed += length * width - Fraction(twice, 2)
            cut.append(due)
            numbers += range(following, following + len(due))
            following += len(slot)
        kept: list[_Part] = []
        end: Rest | None = None
        if later:
            rest = _Part("strip", (_StripLeft(at, following, later),), free, width)
            kept.append(self._keep(rest, part, stage, level))
        else:
            end = self._rest(free, width)
        halves = {place: self._half(part, at, *pair, width, stage, level) for place, pair in split.items()}
        made = StripCut(
            strip=at,
            numbers=tuple(numbers),
            pieces_in_all=in_all,
            length_mm=part.length_mm,
            width_mm=width,
            slots=tuple(cut),
            halves=tuple(halves[place].name if place in halves else None for place in range(len(now))),
            rest=kept[0].name if kept else None,
            end=end,
        )
        return _CutStrip(made, (*kept, *halves.values()), twice_pieces, kerf, trimmed)

    def _half(
        self, part: _Part, at: int, number: int, slot: Slot, width: int, stage: DeliverySequence, level: str
    ) -> _Part:
        """What waits of a pair when its first piece is cut free: everything beyond the slant, end for end."""
        first, second = slot
        start, end = self.lookup.ends_of[first.id]
        ends = width - end - self.kerf, width - start - self.kerf
        half = _Part("tapered", (_StripLeft(at, number, ((second,),)),), first.length_mm, max(ends))
        return self._keep(half, part, stage, level, ends)


@dataclass(frozen=True)
class _CutStrip:
    """A strip's cuts with what is kept of it and where its area goes (twice that of its pieces)."""

    made: StripCut
    kept: tuple[_Part, ...]
    twice_pieces: int
    kerf: int
    trimmed: Fraction


class WaitingCount(Immutable):
    """What waits: pieces needed later than their board comes, by how many deliveries in all, and in how many
    remainders they lie."""

    pieces: int
    piece_stages: int
    remainders: int


def count_waiting(layouts: Iterable[CuttingPattern], stage_of: Mapping[str, int]) -> WaitingCount:
    """Counts what waits in layouts whose `stage` counts deliveries 1, 2, 3, ..., as `stage_of` does by piece id.

    A remainder is counted each time it is racked again: after every delivery that cuts something of a board, one
    for its full width, one for each strip begun and one for each pair of which half is cut.
    """
    pieces = piece_stages = remainders = 0
    for layout in layouts:
        for piece in (piece for strip in layout.strips for piece in strip.pieces):
            late = stage_of[piece.id] - layout.stage
            if late > 0:
                pieces += layout.repeat
                piece_stages += late * layout.repeat
        remainders += _racked(layout, stage_of) * layout.repeat
    return WaitingCount(pieces=pieces, piece_stages=piece_stages, remainders=remainders)


def _racked(layout: CuttingPattern, stage_of: Mapping[str, int]) -> int:
    """How often something of a board is racked: a part that is cut at k deliveries is racked k - 1 times."""
    filled = [strip for strip in layout.strips if strip.pieces]

    def due(strip: Strip) -> list[int]:
        return [min(stage_of[piece.id] for piece in slot) for slot in slots_of(strip)]

    count = max(0, len({first_need(strip.pieces, stage_of.__getitem__) for strip in filled}) - 1)
    for strip in filled:
        count += len(set(due(strip))) - 1
        count += sum(len({stage_of[piece.id] for piece in slot}) - 1 for slot in slots_of(strip))
    return count

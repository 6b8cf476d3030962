"""One board as it is cut: opened at its first delivery, ripped as that needs, racked, cut again until it is used up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from optimiser.boards.cutting_steps import Areas, CuttingStep, Rest, StripCut
from optimiser.boards.delivery_order import Slot, slots_of
from optimiser.boards.plan_lookup import PlanLookup
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.remainder import Remainder, RemainderKind
from optimiser.model.sizes import Size
from optimiser.model.staging import DeliverySequence


@dataclass(frozen=True)
class _StripLeft:
    """What is left of a board's strip `strip` to be cut: its slots, the first piece of which is its `first`th."""

    strip: int
    first: int
    slots: tuple[Slot, ...]

    @cached_property
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

    @cached_property
    def ids(self) -> tuple[str, ...]:
        """The pieces that are still in it."""
        return tuple(piece for strip in self.strips for piece in strip.ids)


def _in_board_order(part: _Part) -> tuple[bool, int, int]:
    """The full width first, then the strips begun from the datum edge; so remainders get their numbers."""
    return part.kind != "board", part.strips[0].strip, part.strips[0].first


class BoardCut:
    """One board on its way through the deliveries."""

    def __init__(
        self,
        lookup: PlanLookup,
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

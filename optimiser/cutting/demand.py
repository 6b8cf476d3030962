"""The cutting problem in the solver's terms: types of equal pieces, sources of material, families of strips.

Equal pieces are one *type* with a demand. A *source* is a board that may be bought or an offcut at hand, with the
stages it may serve. Sources whose strips are interchangeable (same length, kerf, stages and board code) share a
*family*, and a family's strips are formed once for all of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from optimiser.cutting.kernels import Ints
from optimiser.cutting.parts import WIDEST, Component, Family, PieceType, Source, pair_width
from optimiser.cutting.problem import CuttingProblem, Offcut, Piece
from optimiser.cutting.rack_groups import RackGroup, rack_groups
from optimiser.cutting.stock_items import alike_codes_of, stages_served, stock_items


@dataclass(frozen=True)
class Demand:
    """A cutting problem ready to be solved."""

    problem: CuttingProblem
    types: tuple[PieceType, ...]
    sources: tuple[Source, ...]
    families: tuple[Family, ...]

    @cached_property
    def pieces(self) -> int:
        """How many pieces are needed in all."""
        return sum(kind.demand for kind in self.types)

    @cached_property
    def staged(self) -> bool:
        """Whether boards of one code are told apart by the stages that they may serve."""
        bought = [source.code for source in self.sources if source.available is None]
        return len(set(bought)) < len(bought)

    @cached_property
    def rack(self) -> frozenset[int]:
        """Families of offcuts alone: each offcut is cut by a whole pattern, not slot by slot."""
        bought = {source.family for source in self.sources if source.available is None}
        return frozenset(range(len(self.families))) - bought

    @cached_property
    def racks(self) -> tuple[RackGroup, ...]:
        """The rack's offcuts, those that may serve the same pieces together."""
        return rack_groups(self.sources, self.families, self.rack)

    @property
    def offcuts_off_the_rack(self) -> tuple[Offcut, ...]:
        """The offcuts whose strips a bought board shares, so that they are cut slot by slot as it is."""
        racked = {self.sources[s].name for group in self.racks for s in group.sources}
        return tuple(offcut for offcut in self.problem.offcuts if offcut.id not in racked)

    @cached_property
    def collapsed(self) -> list[int | None]:
        """For each type the family in which it is plain demand for strips: of a solo type that can be cut in no
        other, so there is no choice; else None."""
        serving: list[list[int]] = [[] for _ in self.types]
        for f, family in enumerate(self.families):
            for t in family.single_component:
                if self.types[t].solo:
                    serving[t].append(f)
        return [of[0] if len(of) == 1 and of[0] not in self.rack else None for of in serving]

    @cached_property
    def home_source(self) -> list[int]:
        """For each type the bought board on which the heuristic forms its strips: the cheapest that takes it, at the
        type's own stage where boards are told apart by stage."""
        homes = []
        for t, kind in enumerate(self.types):
            options = [
                (
                    kind.low_stage - source.first_stage,
                    source.price / (source.length * source.width),
                    -source.width,
                    s,
                )
                for s, source in enumerate(self.sources)
                if source.available is None
                and source.width >= kind.width_min
                and t in self.families[source.family].single_component
            ]
            homes.append(min(options)[3])
        return homes

    @cached_property
    def home_family(self) -> list[int]:
        """For each type the family of its `home_source`."""
        return [self.sources[s].family for s in self.home_source]


def prepare(problem: CuttingProblem, *, pairs: bool = True) -> Demand:
    """Types, sources and families of a cutting problem. `pairs`: whether tapered pieces may lie head to tail."""
    windows, class_of = stages_served(problem)
    representative: dict[int, int] = {}
    for stage in sorted(class_of):
        representative.setdefault(class_of[stage], stage)
    items = stock_items(problem, windows)
    shape = _Shape(
        class_of,
        shortest=min((piece.length_mm for piece in problem.pieces), default=1),
        lengths=sorted({item.length for item in items}),
        least_kerf=min(item.kerf for item in items),
        trim=problem.trim,
        pairs=pairs,
    )
    alike: dict[tuple[object, ...], list[int]] = {}  # pieces that differ in nothing but name and quantity
    for index, piece in enumerate(problem.pieces):
        same = (
            piece.length_mm,
            piece.width_min_mm,
            piece.width_max_mm,
            piece.stage,
            piece.boards,
            piece.width_start_mm,
            piece.width_end_mm,
        )
        alike.setdefault(same, []).append(index)
    grouped: dict[_TypeKey, list[int]] = {}
    for members in alike.values():
        grouped.setdefault(shape.key(problem.pieces[members[0]]), []).extend(members)
    types = [
        PieceType(
            *key._replace(stage=representative[key.stage]),
            demand=sum(problem.pieces[member].quantity for member in members),
            members=tuple(members),
        )
        for key, members in grouped.items()
    ]
    types.sort(
        key=lambda t: (-t.length, -t.width_min, t.width_max, t.low_stage, sorted(t.codes), t.ends or (0, 0))
    )
    alike_codes = alike_codes_of(items, types)
    keys: dict[_FamilyKey, int] = {}
    widest: dict[int, int] = {}
    sources = []
    for item in items:
        key = _FamilyKey(item.length, item.kerf, item.first, item.last, alike_codes[item.code])
        family = keys.setdefault(key, len(keys))
        widest[family] = max(widest.get(family, 0), item.width)
        sources.append(Source(*item, family))
    families = tuple(_family(types, key, widest[family], pairs) for key, family in keys.items())
    return Demand(problem, tuple(types), tuple(sources), families)


class _FamilyKey(NamedTuple):
    length: int
    kerf: int
    first: int
    last: int
    codes: frozenset[str]  # empty: whatever the code


class _TypeKey(NamedTuple):
    length: int
    width_min: int
    width_max: int
    stage: int
    codes: frozenset[str]
    ends: tuple[int, int] | None
    solo: bool


@dataclass(frozen=True)
class _Shape:
    """What decides which pieces are alike."""

    class_of: dict[int, int]
    shortest: int
    lengths: list[int]  # of all stock, ascending
    least_kerf: int
    trim: bool
    pairs: bool

    def key(self, piece: Piece) -> _TypeKey:
        ends: tuple[int, int] | None = None
        if piece.tapered and self.pairs and piece.width_start_mm and piece.width_end_mm:
            ends = (piece.width_start_mm, piece.width_end_mm)
        width_max = WIDEST if self.trim or piece.tapered else piece.width_max_mm
        length = piece.length_mm
        solo = ends is None and length + self.least_kerf + self.shortest > self.lengths[-1]
        if solo:  # nothing fits beside it, so its exact length and the top of its window do not matter
            length = next(stock for stock in self.lengths if stock >= piece.length_mm)
            width_max = WIDEST
        stage = self.class_of[piece.stage]
        return _TypeKey(length, piece.width_min_mm, width_max, stage, frozenset(piece.boards), ends, solo)


def _family(types: list[PieceType], key: _FamilyKey, widest: int, pairs: bool) -> Family:
    eligible = [
        t
        for t, kind in enumerate(types)
        if kind.length <= key.length
        and kind.width_min <= widest
        and key.first <= kind.low_stage <= key.last
        and (not kind.codes or not key.codes or key.codes & kind.codes)
    ]
    components = [
        Component(types[t].length, types[t].width_min, types[t].width_max, (t,), types[t].demand)
        for t in eligible
    ]
    if pairs:
        components += _tapered_pairs(types, [t for t in eligible if types[t].ends], key.kerf, widest)
    widths = sorted({component.width_min for component in components})
    natural = dict.fromkeys(widths, 0)
    for component in components:
        natural[component.width_min] += component.bound
    return Family(
        key.length,
        key.kerf,
        widest,
        tuple(components),
        _ints(widths),
        _ints([natural[width] for width in widths]),
        _ints([component.length + key.kerf for component in components]),
        _ints([component.width_min for component in components]),
        _ints([component.width_max for component in components]),
        _ints([component.bound for component in components]),
    )


def _ints(values: list[int]) -> Ints:
    return np.array(values, dtype=np.int32)


def _tapered_pairs(types: list[PieceType], tapered: list[int], kerf: int, widest: int) -> list[Component]:
    """Pairs of equal length, one turned end for end: the strip is as wide as the wider sum of facing ends."""
    by_length: dict[int, list[int]] = {}
    for t in tapered:
        by_length.setdefault(types[t].length, []).append(t)
    found = []
    for length, group in by_length.items():
        for position, a in enumerate(group):
            options = []
            for b in group[position:]:
                if a == b and types[a].demand < 2:
                    continue
                (start_a, end_a), (start_b, end_b) = types[a].ends or (0, 0), types[b].ends or (0, 0)
                width = pair_width((start_a, end_a), (start_b, end_b), kerf)
                saved = types[a].width_min + types[b].width_min + kerf - width
                if saved > 0 and width <= widest:
                    options.append((-saved, width, b))
            for _, width, b in sorted(options)[:24]:  # the best partners are enough
                bound = types[a].demand // 2 if a == b else min(types[a].demand, types[b].demand)
                found.append(Component(length, width, WIDEST, (a, b), bound))
    return found

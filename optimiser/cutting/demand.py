"""The cutting problem in the solver's terms: types of equal pieces, sources of material, families of strips.

Equal pieces are one *type* with a demand. A *source* is a board that may be bought or an offcut at hand, with the
stages it may serve. Sources whose strips are interchangeable (same length, kerf, stages and board code) share a
*family*, and a family's strips are formed once for all of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimiser.cutting.kernels import Ints
from optimiser.cutting.problem import CuttingProblem, Piece

WIDEST = 1 << 30  # the upper end of a window that has none


@dataclass(frozen=True)
class PieceType:
    """Pieces that any pattern may exchange. A *solo* type cannot share its strip with anything; its pieces may
    differ in length, so its `length` is that of the shortest family that takes them all."""

    length: int
    width_min: int
    width_max: int
    low_stage: int
    codes: frozenset[str]
    ends: tuple[int, int] | None
    solo: bool
    demand: int
    members: tuple[int, ...]  # indices into problem.pieces


@dataclass(frozen=True)
class Source:
    """A board size (available: None, without limit) or an offcut, serving pieces of stages first to last."""

    name: str
    code: str
    length: int
    width: int
    kerf: int
    price: int
    available: int | None
    first_stage: int
    last_stage: int
    family: int


@dataclass(frozen=True)
class Component:
    """What lies in one length of a strip: one piece, or a tapered pair head to tail."""

    length: int
    width_min: int
    width_max: int
    types: tuple[int, ...]  # one type, or the two of a pair
    bound: int


@dataclass(frozen=True)
class Family:
    """Interchangeable strips: which components they may hold and which widths are worth ripping."""

    length: int
    kerf: int
    widest: int
    components: tuple[Component, ...]
    widths: Ints  # ascending
    width_bounds: Ints  # at most so many strips of a width are of use
    lengths: Ints  # of the components, kerf added
    width_min: Ints
    width_max: Ints
    bounds: Ints

    @cached_property
    def index_of_width(self) -> dict[int, int]:
        """Position of each width in `widths`."""
        return {int(width): k for k, width in enumerate(self.widths)}

    @cached_property
    def single_component(self) -> dict[int, int]:
        """The component that is one piece of a type, by type."""
        return {c.types[0]: k for k, c in enumerate(self.components) if len(c.types) == 1}

    @property
    def capacity(self) -> int:
        """Strip length plus one kerf: each piece takes its length and a kerf of it."""
        return self.length + self.kerf


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

    @property
    def collapsed(self) -> bool:
        """Whether solo types are plain demand for strips: one family, so there is no choice of one."""
        return len(self.families) == 1

    @cached_property
    def home_family(self) -> list[int]:
        """For each type the family in which the heuristic forms its strips: that of the cheapest bought board
        that takes it, at the type's own stage where boards are told apart by stage."""
        homes = []
        for t, kind in enumerate(self.types):
            options = [
                (
                    kind.low_stage - source.first_stage,
                    source.price / (source.length * source.width),
                    -source.width,
                    source.family,
                )
                for source in self.sources
                if source.available is None
                and source.width >= kind.width_min
                and t in self.families[source.family].single_component
            ]
            homes.append(min(options)[3])
        return homes


def _stages_served(problem: CuttingProblem) -> tuple[list[tuple[int, int]], dict[int, int]]:
    """The stage windows of bought boards, and each stage's class: stages of a class are served alike.

    With unlimited carry a board serves every stage from its own on, and it is delivered with its first piece,
    so one window holds them all; only offcuts that appear later tell stages apart.
    """
    stages = sorted({piece.stage for piece in problem.pieces})
    carry = problem.max_carry_stages
    if not stages:
        return [], {}
    if carry is None or carry >= stages[-1] - stages[0]:
        limits = sorted({offcut.stage for offcut in problem.offcuts})
        class_of = {stage: sum(limit <= stage for limit in limits) for stage in stages}
        if carry is not None and problem.offcuts and limits[0] + carry < stages[-1]:
            class_of = {stage: stage for stage in stages}  # early offcuts do not last: tell all stages apart
        return [(stages[0], stages[-1])], class_of
    return [(stage, stage + carry) for stage in stages], {stage: stage for stage in stages}


def prepare(problem: CuttingProblem, *, pairs: bool = True) -> Demand:
    """Types, sources and families of a cutting problem. `pairs`: whether tapered pieces may lie head to tail."""
    windows, class_of = _stages_served(problem)
    representative: dict[int, int] = {}
    for stage in sorted(class_of):
        representative.setdefault(class_of[stage], stage)
    carry = problem.max_carry_stages
    restricted = any(piece.boards for piece in problem.pieces) or any(
        offcut.code for offcut in problem.offcuts
    )

    raw: list[tuple[str, str, int, int, int, int, int | None, int, int]] = []
    for board in problem.boards:
        price = board.price_cents if problem.several_boards else 1
        for first, last in windows:
            raw.append(
                (
                    board.code,
                    board.code,
                    board.length_mm,
                    board.width_mm,
                    board.kerf_mm,
                    price,
                    None,
                    first,
                    last,
                )
            )
    kerf = problem.boards[0].kerf_mm
    for offcut in problem.offcuts:
        last = offcut.stage + carry if carry is not None else WIDEST
        raw.append(
            (
                offcut.id,
                offcut.code,
                offcut.length_mm,
                offcut.width_mm,
                kerf,
                0,
                offcut.quantity,
                offcut.stage,
                last,
            )
        )

    shortest = min((piece.length_mm for piece in problem.pieces), default=1)
    longest_stock = max(entry[2] for entry in raw)
    least_kerf = min(entry[4] for entry in raw)
    lengths_of_stock = sorted({entry[2] for entry in raw})

    grouped: dict[tuple[object, ...], list[int]] = {}
    for index, piece in enumerate(problem.pieces):
        key = _type_key(
            piece, problem.trim, class_of, shortest, longest_stock, least_kerf, lengths_of_stock, pairs
        )
        grouped.setdefault(key, []).append(index)
    types = []
    for key, members in grouped.items():
        length, width_min, width_max, stage_class, codes, ends, solo = key
        types.append(
            PieceType(
                length,
                width_min,
                width_max,
                representative[stage_class],
                codes,
                ends,
                solo,  # type: ignore[arg-type, index]
                sum(problem.pieces[m].quantity for m in members),
                tuple(members),
            )  # fmt: skip
        )
    types.sort(
        key=lambda t: (-t.length, -t.width_min, t.width_max, t.low_stage, sorted(t.codes), t.ends or (0, 0))
    )

    keys: dict[tuple[object, ...], int] = {}
    widest_of: dict[int, int] = {}
    sources = []
    for name, code, length, width, kerf, price, available, first, last in raw:
        family_key = (length, kerf, first, last, code if restricted else "")
        family = keys.setdefault(family_key, len(keys))
        widest_of[family] = max(widest_of.get(family, 0), width)
        sources.append(Source(name, code, length, width, kerf, price, available, first, last, family))
    families = tuple(
        _family(types, length, kerf, widest_of[family], first, last, code, pairs, problem.trim)  # type: ignore[arg-type]
        for (length, kerf, first, last, code), family in keys.items()
    )
    return Demand(problem, tuple(types), tuple(sources), families)


def _type_key(
    piece: Piece,
    trim: bool,
    class_of: dict[int, int],
    shortest: int,
    longest_stock: int,
    least_kerf: int,
    lengths_of_stock: list[int],
    pairs: bool,
) -> tuple[object, ...]:
    ends = (piece.width_start_mm, piece.width_end_mm) if piece.tapered and pairs else None
    width_max = WIDEST if trim or piece.tapered else piece.width_max_mm
    solo = ends is None and piece.length_mm + least_kerf + shortest > longest_stock
    length = piece.length_mm
    if solo:
        length = next(stock for stock in lengths_of_stock if stock >= piece.length_mm)
        width_max = WIDEST
    stage_class = class_of[piece.stage]
    return (length, piece.width_min_mm, width_max, stage_class, frozenset(piece.boards), ends, solo)


def _family(
    types: list[PieceType],
    length: int,
    kerf: int,
    widest: int,
    first: int,
    last: int,
    code: str,
    pairs: bool,
    trim: bool,
) -> Family:
    eligible = [
        t
        for t, kind in enumerate(types)
        if kind.length <= length
        and kind.width_min <= widest
        and first <= kind.low_stage <= last
        and (not kind.codes or not code or code in kind.codes)
    ]
    components = [
        Component(types[t].length, types[t].width_min, types[t].width_max, (t,), types[t].demand)
        for t in eligible
    ]
    if pairs:
        components += _tapered_pairs(types, [t for t in eligible if types[t].ends], kerf, widest)
    widths = sorted({component.width_min for component in components})
    natural = dict.fromkeys(widths, 0)
    for component in components:
        natural[component.width_min] += component.bound
    as_ints = lambda values: np.array(values, dtype=np.int32)  # noqa: E731
    return Family(
        length,
        kerf,
        widest,
        tuple(components),
        as_ints(widths),
        as_ints([natural[width] for width in widths]),
        as_ints([component.length + kerf for component in components]),
        as_ints([component.width_min for component in components]),
        as_ints([component.width_max for component in components]),
        as_ints([component.bound for component in components]),
    )


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


def pair_width(first: tuple[int, int], second: tuple[int, int], kerf: int) -> int:
    """Strip width that two tapers of equal length take, the second turned end for end, a kerf between them."""
    return max(first[0] + second[1], first[1] + second[0]) + kerf

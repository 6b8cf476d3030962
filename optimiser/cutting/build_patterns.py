"""From columns to layouts: strips into slots, named pieces into strips, stages to boards, left-overs listed."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter

from optimiser.cutting.columns import ColumnPlan
from optimiser.cutting.demand import Demand
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.parts import Family
from optimiser.cutting.postprocess import fewer_widths, larger_left_over
from optimiser.cutting.problem import CutPiece, CuttingPattern, LeftOver, Piece, Strip
from optimiser.cutting.ripping import put_in_order
from optimiser.cutting.stages import Place, assign_stages


def named_boards(demand: Demand, plan: ColumnPlan) -> list[OpenBoard]:
    """The plan's boards with every piece named exactly as often as it is needed."""
    boards = _place_strips(demand, plan)
    _drop_surplus(demand, boards)
    boards = [board for board in boards if board.strips]
    assignment = assign_stages(demand, [_places(board) for board in boards])
    for board, names in zip(boards, assignment, strict=True):
        following = iter(names)
        for strip in board.strips:
            strip.names = [[next(following) for _ in component] for component in strip.held]
    return boards


def build_patterns(
    demand: Demand, boards: list[OpenBoard], *, last_aims: bool = True
) -> tuple[tuple[CuttingPattern, ...], tuple[LeftOver, ...]]:
    """Layouts in the order of ripping, and what is left of each board. The boards are postprocessed first, unless there
    is no time for the `last_aims`."""
    if last_aims:
        fewer_widths(demand, boards)
        larger_left_over(demand, boards)
    put_in_order(demand, boards)
    return _layouts(demand, boards)


def _places(board: OpenBoard) -> list[Place]:
    return [
        Place(kind, board.source) for strip in board.strips for component in strip.held for kind in component
    ]


def _place_strips(demand: Demand, plan: ColumnPlan) -> list[OpenBoard]:
    boards: list[OpenBoard] = []
    slots: list[dict[int, list[int]]] = [{} for _ in demand.families]  # width -> boards with such a slot
    for pattern, times in plan.boards:
        waiting = slots[demand.sources[pattern.source].family]
        for _ in range(times):
            for w, copies in pattern.pairs:
                waiting.setdefault(w, []).extend([len(boards)] * copies)
            boards.append(OpenBoard(pattern.source, []))
    for f, family in enumerate(demand.families):
        for stack in slots[f].values():
            stack.reverse()
        strips = sorted((s for s in plan.strips if s[0].family == f), key=lambda s: (-s[0].width, s[0].pairs))
        widths = sorted(slots[f])  # of the slots that are left
        for strip, times in strips:
            held = [family.components[c].types for c, copies in strip.pairs for _ in range(copies)]
            width = _width_of(demand, family, held)
            for _ in range(times):
                # the narrowest slot that takes it: exact matches first, so wide slots stay for wide strips
                at = bisect_left(widths, strip.width)
                stack = slots[f][widths[at]]
                boards[stack.pop()].strips.append(OpenStrip(width, list(held)))
                if not stack:
                    del widths[at]
    return boards


def _drop_surplus(demand: Demand, boards: list[OpenBoard]) -> None:
    """Patterns may hold more pieces than are needed: the surplus is dropped, narrow strips last."""
    surplus = Counter(
        kind for board in boards for strip in board.strips for component in strip.held for kind in component
    )
    surplus.subtract({t: kind.demand for t, kind in enumerate(demand.types)})
    if not any(count > 0 for count in surplus.values()):
        return
    for board in reversed(boards):
        family = demand.families[demand.sources[board.source].family]
        for strip in board.strips:
            for component in list(strip.held):
                if len(component) > 1 and any(surplus[kind] > 0 for kind in component):
                    strip.held.remove(component)
                    keep = []
                    for kind in component:
                        if surplus[kind] > 0:
                            surplus[kind] -= 1
                        else:
                            keep.append(kind)
                    strip.held += [(kind,) for kind in keep]
                elif len(component) == 1 and surplus[component[0]] > 0:
                    surplus[component[0]] -= 1
                    strip.held.remove(component)
            if strip.held:
                strip.width = _width_of(demand, family, strip.held)
        board.strips = [strip for strip in board.strips if strip.held]


def _width_of(demand: Demand, family: Family, held: list[tuple[int, ...]]) -> int:
    """The narrowest width that serves every component: narrower than the slot only frees board."""
    return max(
        demand.types[component[0]].width_min if len(component) == 1 else family.pair_width[component]
        for component in held
    )


def _cut_pieces(pieces: tuple[Piece, ...], names: list[int], strip_width: int, trim: bool) -> list[CutPiece]:
    cut = []
    for position, index in enumerate(names):
        piece = pieces[index]
        width = strip_width
        if piece.tapered:
            width = piece.width_min_mm
        elif trim:
            width = min(strip_width, piece.width_max_mm)
        cut.append(
            CutPiece(id=piece.id, length_mm=piece.length_mm, width_mm=width, head_to_tail=position > 0)
        )
    return cut


def _layouts(
    demand: Demand, boards: list[OpenBoard]
) -> tuple[tuple[CuttingPattern, ...], tuple[LeftOver, ...]]:
    problem = demand.problem
    pieces = problem.pieces
    if not boards:
        return (), ()
    least_length = min(piece.length_mm for piece in pieces)
    least_width = min(piece.width_min_mm for piece in pieces)
    counted: Counter[_Order] = Counter()
    first: dict[_Order, CuttingPattern] = {}
    left: Counter[tuple[int, int, int, str]] = Counter()
    for board in boards:
        source = demand.sources[board.source]
        stage = board.stage(demand)
        strips = []
        for strip in board.strips:
            ordered = strip.names
            cut = tuple(
                piece for names in ordered for piece in _cut_pieces(pieces, names, strip.width, problem.trim)
            )
            strips.append(Strip(width_mm=strip.width, pieces=cut))
            used = sum(pieces[names[0]].length_mm + source.kerf for names in ordered)
            rest = source.length - used
            if rest >= least_length and strip.width >= least_width:
                left[rest, strip.width, stage, source.code] += 1
        rest = source.width - sum(strip.width_mm + source.kerf for strip in strips)
        if rest >= least_width and source.length >= least_length:
            left[source.length, rest, stage, source.code] += 1
        layout = CuttingPattern(
            stock=source.name, stage=stage, repeat=1, strips=tuple(strips), code=source.code
        )
        same = _order(layout)
        counted[same] += 1
        first.setdefault(same, layout)
    layouts = tuple(
        first[same] if counted[same] == 1 else first[same].model_copy(update={"repeat": counted[same]})
        for same in sorted(first)
    )
    left_over = tuple(
        LeftOver(length_mm=length, width_mm=width, stage=stage, quantity=count, code=code)
        for (length, width, stage, code), count in sorted(
            left.items(), key=lambda item: (item[0][2], item[0])
        )
    )
    return layouts, left_over


_Order = tuple[int, str, tuple[int, ...], tuple[str, ...]]


def _order(layout: CuttingPattern) -> _Order:
    """Sorts layouts, and tells those that are the same piece by piece."""
    return (
        layout.stage,
        layout.stock,
        tuple(-strip.width_mm for strip in layout.strips),
        tuple(piece.id for strip in layout.strips for piece in strip.pieces),
    )

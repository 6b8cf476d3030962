"""New joints for a run whose survey changed, around the spans between old joints that still serve.

A shortest path over positions of the run. Its steps are the old spans that serve, the pieces and open stretches of
the run laid out afresh, and, around what does not serve any more, pieces of one width between candidate joints:
multiples of `CANDIDATE_MM`, measured positions, both sides of mullions, old and fresh joints, and a shortest or
longest piece away from those; and tapered ones where nothing else leads from end to end. Aims in order: as little left
open and as few short pieces as laid out afresh, the most old spans kept, the fewest pieces, the fewest tapered, the
widest windows in sum. (That a tapered piece counts as two, since a straight one is easier to find among those that are
cut, was tried: half as many again were cut anew.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimiser.joints.layout import LaidPiece
from optimiser.model.planned_pieces import NotPlanned
from optimiser.model.sizes import Size
from optimiser.replanning.place_maker import PlaceMaker

CANDIDATE_MM = 50

Stretch = LaidPiece | NotPlanned
"""A part of a run: a place for a piece, or what stays open."""

# Each above any length or count of a run times the one before: one whole number holds all aims in their order.
_ROOM, _TAPERED, _PIECE, _KEPT, _SHORT, _OPEN = 1, 10**8, 10**16, 10**24, 10**32, 10**40


@dataclass(frozen=True, slots=True)
class _Best:
    """The best way to a position: its cost, where its last step began, and that step (None: one yet to be made)."""

    cost: int
    before: int
    step: Stretch | None


def joints_around(
    made: PlaceMaker, kept: Sequence[LaidPiece], afresh: Sequence[Stretch]
) -> tuple[Stretch, ...]:
    """A run end to end: old spans (`kept`, in order), new ones, and what stays open, in order of position.

    `afresh` is the run laid out afresh: that is the answer where nothing serves any more.
    """
    if not kept:
        return tuple(afresh)
    found = joints_within(made, kept, afresh, (0, made.run.length_mm))
    if found is None:
        raise RuntimeError("a run that is laid out afresh cannot be laid out: a fault of this tool")
    return found


def joints_within(
    made: PlaceMaker, kept: Sequence[LaidPiece], afresh: Sequence[Stretch], within: tuple[int, int]
) -> tuple[Stretch, ...] | None:
    """The same for a part of a run, whose ends are joints: both lists hold what lies in it. None where no pieces and
    stretches of theirs, nor new pieces, lead from one end to the other; new pieces are tapered only where straight ones
    do not."""
    found = _within(made, kept, afresh, within, tapers=False)
    return found if found is not None else _within(made, kept, afresh, within, tapers=True)


def _within(
    made: PlaceMaker,
    kept: Sequence[LaidPiece],
    afresh: Sequence[Stretch],
    within: tuple[int, int],
    *,
    tapers: bool,
) -> tuple[Stretch, ...] | None:
    steps: dict[int, list[tuple[Stretch, int]]] = {}
    for span in kept:
        steps.setdefault(span.from_mm, []).append((span, _cost(span) - _KEPT))
    for stretch in afresh:
        steps.setdefault(stretch.from_mm, []).append((stretch, _cost(stretch)))
    new_pieces: dict[int, list[tuple[int, int]]] = {}
    for window in _windows(within, kept):
        points = _candidates(made, window, kept, afresh, within)
        new_pieces |= dict(_new_pieces(made, points))
        for piece in _new_tapered_pieces(made, points) if tapers else ():
            steps.setdefault(piece.from_mm, []).append((piece, _cost(piece)))
    best: dict[int, _Best] = {within[0]: _Best(0, within[0], None)}
    ends = {end for span in (*kept, *afresh) for end in (span.from_mm, span.to_mm)}
    for at_mm in sorted(ends | new_pieces.keys()):
        if (here := best.get(at_mm)) is None:
            continue
        for step, cost in steps.get(at_mm, ()):
            if (other := best.get(step.to_mm)) is None or here.cost + cost < other.cost:
                best[step.to_mm] = _Best(here.cost + cost, at_mm, step)
        for to_mm, cost in new_pieces.get(at_mm, ()):
            if (other := best.get(to_mm)) is None or here.cost + cost < other.cost:
                best[to_mm] = _Best(here.cost + cost, at_mm, None)
    return tuple(_traced(made, best, within)) if within[1] in best else None


def _cost(span: Stretch) -> int:
    if isinstance(span, NotPlanned):
        return _OPEN * (span.to_mm - span.from_mm)
    room = 0 if span.tapered else span.width_max_mm - span.width_min_mm
    return _SHORT * span.short + _PIECE + _TAPERED * span.tapered - _ROOM * room


def _traced(made: PlaceMaker, best: dict[int, _Best], within: tuple[int, int]) -> list[Stretch]:
    """The steps of the best way from one end to the other, in order."""
    found: list[Stretch] = []
    at_mm = within[1]
    while at_mm > within[0]:
        last = best[at_mm]
        step = last.step or made.place(last.before, at_mm)
        if step is None:
            raise RuntimeError("a new piece between candidate joints has no place: a fault of this tool")
        found.append(step)
        at_mm = last.before
    return found[::-1]


def _windows(within: tuple[int, int], kept: Sequence[LaidPiece]) -> Iterator[tuple[int, int]]:
    """What of a part of a run no kept span covers, each with the kept spans beside it."""
    first, last = within
    ends = [(first, first), *((span.from_mm, span.to_mm) for span in kept), (last, last)]
    begun: tuple[int, int] | None = None
    for before, after in pairwise(ends):
        if before[1] < after[0]:
            if begun is not None and before[0] <= begun[1]:
                begun = begun[0], after[1]
                continue
            if begun is not None:
                yield begun
            begun = before[0], after[1]
    if begun is not None:
        yield begun


@dataclass(frozen=True)
class _Point:
    """A position with the widths that serve there, whether its gap is in the tested range, and whether a piece may
    end there."""

    at_mm: int
    width_min: int
    width_max: int
    in_range: bool
    joint: bool


def _candidates(
    made: PlaceMaker,
    window: tuple[int, int],
    kept: Sequence[LaidPiece],
    afresh: Sequence[Stretch],
    within: tuple[int, int],
) -> list[_Point]:
    """Positions in a window, ascending: candidate joints, and measured positions whether or not they are one."""
    first, last = window
    detail = made.detail
    shortest, clear = detail.piece_length_min_mm, detail.joint_to_mullion_min_mm
    longest = made.longest_mm
    seeds = {first, last, *(end for span in (*kept, *afresh) for end in (span.from_mm, span.to_mm))}
    seeds |= {*made.along.at_mm, *(m + side for m in made.mullions for side in (-clear, clear))}
    around = {seed + step for seed in seeds for step in (-longest, -shortest, 0, shortest, longest)}
    around |= set(range(first, last, CANDIDATE_MM))
    found = []
    for at_mm in sorted(at for at in around if first <= at <= last):
        joint = at_mm in within or made.may_end_at(at_mm)
        if joint or at_mm in made.along.at_mm:
            gap, over = made.along.ratio_at(at_mm)
            in_range = detail.gap_min_mm * over <= gap <= detail.gap_max_mm * over
            widths = made.rates.width_min(gap, over), made.rates.width_max(gap, over)
            found.append(_Point(at_mm, *widths, in_range, joint))
    return found


def _new_tapered_pieces(made: PlaceMaker, points: Sequence[_Point]) -> Iterator[LaidPiece]:
    """Tapered pieces between candidate joints."""
    shortest, longest = made.detail.piece_length_min_mm, made.longest_mm
    joints = [point.at_mm for point in points if point.joint and point.in_range]
    for number, start in enumerate(joints):
        for end in joints[number + 1 :]:
            if shortest <= end - start <= longest and (place := made.tapered_place(start, end)) is not None:
                yield place


def _new_pieces(made: PlaceMaker, points: Sequence[_Point]) -> Iterator[tuple[int, list[tuple[int, int]]]]:
    """For each candidate joint where pieces of one width that begin there may end, and what each costs."""
    shortest = made.detail.piece_length_min_mm
    longest = made.longest_mm
    for number, start in enumerate(points):
        if not start.joint or not start.in_range:
            continue
        least, most = start.width_min, start.width_max
        ends: list[tuple[int, int]] = []
        for end in points[number + 1 :]:
            least, most = max(least, end.width_min), min(most, end.width_max)
            length = end.at_mm - start.at_mm
            if not end.in_range or least > most or length > longest:
                break
            if (
                end.joint
                and length >= shortest
                and any(board.size.holds(Size(length, least)) for board in made.boards)
            ):
                ends.append((end.at_mm, _PIECE - _ROOM * (most - least)))
        yield start.at_mm, ends

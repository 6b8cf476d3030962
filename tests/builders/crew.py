"""A crew that does what its sheets say and nothing else: opens boards, rips, cross-cuts, labels, racks, takes again.

It knows the sizes of the boards, the thickness of its saw's cut, and what is printed: names, the numbered cuts, the
places of the pieces and what becomes of each part. What it holds in its hands is worked out from the cuts alone.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

from optimiser.model.plan import Plan
from optimiser.writing.crew.board_patterns import cuts_by_delivery
from optimiser.writing.crew.labels import labels_in_cutting_order
from optimiser.writing.drawing.placed_board import BoardCuts, Cut, PlacedPiece, Remainder
from optimiser.writing.drawing.plan_index import PlanIndex

Size = tuple[int, int]


@dataclass(frozen=True)
class Racked:
    """A part on the rack with what its label says. `ends`: of half a pair, the widths of its start and end."""

    name: str
    code: str
    length_mm: int
    width_mm: int
    ends: Size | None
    waits_for: str

    @property
    def area(self) -> Fraction:
        left, right = self.ends or (self.width_mm, self.width_mm)
        return Fraction((left + right) * self.length_mm, 2)


@dataclass
class Site:
    """The rack, the pieces that are fitted (length and end widths by id), the left-overs, and what is lost."""

    rack: dict[str, Racked] = field(default_factory=dict)
    fitted: dict[str, tuple[int, int, int]] = field(default_factory=dict)
    left_over: Counter[tuple[str, int, int]] = field(default_factory=Counter)
    opened: dict[str, Fraction] = field(default_factory=dict)
    lost: Fraction = Fraction(0)
    racked: list[str] = field(default_factory=list)

    @property
    def area(self) -> Fraction:
        """Everything that was ever opened, where it is now."""
        pieces = sum((Fraction((a + b) * length, 2) for length, a, b in self.fitted.values()), Fraction(0))
        over = sum(length * width * number for (_, length, width), number in self.left_over.items())
        return pieces + over + self.lost + sum((part.area for part in self.rack.values()), Fraction(0))


def play(plan: Plan) -> Site:
    """Follows the sheets of every delivery of a plan; every step on the way is an assertion."""
    index = PlanIndex(plan)
    site = Site()
    kerf = plan.project.detail.kerf_mm
    levels = {level.level: level.sequence for level in plan.project.levels}
    deliveries = cuts_by_delivery(index)
    assert list(deliveries) == sorted(deliveries)
    for stage, delivery in deliveries.items():
        labels = [
            item if isinstance(item, str) else getattr(item, "id", None) or getattr(item, "name", "")
            for item in labels_in_cutting_order(index, deliveries, [stage], True)
        ]
        before = set(site.fitted) | set(site.racked)
        for cuts in delivery.in_order:
            _cut(site, plan, cuts, kerf, stage, levels)
            assert site.area == sum(site.opened.values()), cuts.name
        new = (set(site.fitted) | set(site.racked)) - before
        assert set(labels) == new, "a label for each piece and each remainder, and no other"
        assert len(labels) == len(new)
        due = {piece.id for piece in plan.pieces if levels[piece.level] == stage}
        assert due <= set(site.fitted), "the delivery's levels have all their pieces"
        assert not any(levels[part.waits_for] <= stage for part in site.rack.values()), "nothing is forgotten"
    return site


def _cut(site: Site, plan: Plan, cuts: BoardCuts, kerf: int, stage: int, levels: dict[str, int]) -> None:
    """One board or remainder: taken up, cut as numbered, its parts put where the sheet says."""
    if cuts.remainder:
        part = site.rack.pop(cuts.name)  # it is there
        assert levels[part.waits_for] == stage, "it is cut with the level on its label, not before"
        assert (part.length_mm, part.width_mm, part.ends) == (cuts.length_mm, cuts.width_mm, cuts.ends_mm)
    else:
        assert cuts.name not in site.opened, "a board is opened once"
        product = next((p for p in plan.project.products if p.code == cuts.code), None)
        if not cuts.offcut:
            assert product is not None
            assert (cuts.length_mm, cuts.width_mm) == (product.length_mm, product.width_mm)
        site.opened[cuts.name] = Fraction(cuts.length_mm * cuts.width_mm)
    assert [cut.number for cut in cuts.cuts] == list(range(1, len(cuts.cuts) + 1))
    if cuts.ends_mm is not None:
        (piece,) = cuts.pieces
        _fit(site, plan, piece, cuts.length_mm, _ends(cuts, piece, *cuts.ends_mm), stage, levels)
        got = site.fitted[piece.id]
        site.lost += Fraction((sum(cuts.ends_mm) - got[1] - got[2]) * cuts.length_mm, 2)
        return
    rests = {rest.corners: rest for rest in cuts.remainders}
    rips = {cut.strip: cut.at_mm for cut in cuts.cuts if cut.kind == "rip"}
    bottom = 0
    for strip in cuts.strips:
        top = rips.get(strip.letter, cuts.width_mm)
        blocks, end = _cross_cut(site, cuts, strip.letter, top - bottom, kerf)
        pieces = list(strip.pieces)
        for left, right in blocks:
            here = [piece for piece in pieces if piece.corners[0][0] == left]
            pieces = [piece for piece in pieces if piece not in here]
            _free(site, plan, cuts, here, (left, right), (bottom, top), kerf, stage, levels)
        assert not pieces
        if end is not None:
            corners = ((end, bottom), (cuts.length_mm, bottom), (cuts.length_mm, top), (end, top))
            _put_away(site, cuts, rests[corners], cuts.length_mm - end, top - bottom)
        if top < cuts.width_mm:
            site.lost += min(kerf, cuts.width_mm - top) * cuts.length_mm
        bottom = min(top + kerf, cuts.width_mm)
    if bottom < cuts.width_mm:
        corners = ((0, bottom), (cuts.length_mm, bottom), (cuts.length_mm, cuts.width_mm), (0, cuts.width_mm))
        _put_away(site, cuts, rests[corners], cuts.length_mm, cuts.width_mm - bottom)


def _cross_cut(
    site: Site, cuts: BoardCuts, letter: str, width: int, kerf: int
) -> tuple[list[Size], int | None]:
    """The lengths that a strip falls into (from, to), and where its uncut end begins, if there is one."""
    blocks: list[Size] = []
    left = 0
    for cut in cuts.cuts:
        if cut.kind == "cross-cut" and cut.strip == letter:
            blocks.append((left, cut.at_mm))
            site.lost += min(kerf, cuts.length_mm - cut.at_mm) * width
            left = cut.at_mm + kerf
    ends_in_piece = any(
        piece.corners[1][0] == cuts.length_mm
        for strip in cuts.strips
        if strip.letter == letter
        for piece in strip.pieces
    )
    if ends_in_piece:
        blocks.append((left, cuts.length_mm))
        return blocks, None
    return blocks, left if left < cuts.length_mm else None


def _free(
    site: Site,
    plan: Plan,
    cuts: BoardCuts,
    pieces: list[PlacedPiece],
    along: Size,
    across: Size,
    kerf: int,
    stage: int,
    levels: dict[str, int],
) -> None:
    """The pieces of one length, freed by their slants and trims; of a pair for two deliveries only the first."""
    length, width = along[1] - along[0], across[1] - across[0]
    area = Fraction(length * width)
    for piece in pieces:
        shares = len(pieces) == 2
        ends = _ends(cuts, piece, width, width, of_pair=shares)
        _fit(site, plan, piece, length, ends, stage, levels)
        _, start, end = site.fitted[piece.id]
        area -= Fraction((start + end) * length, 2)
    half = next((rest for rest in cuts.stays if rest.corners[2:] == _top(along, across[1])
                 and rest.corners[0][1] != across[0]), None) if len(pieces) == 1 else None  # fmt: skip
    if half is not None:
        _, start, end = site.fitted[pieces[0].id]
        ends = width - end - kerf, width - start - kerf  # turned end for end
        _rack(site, cuts, half, length, max(ends), ends)
        area -= Fraction(sum(ends) * length, 2)
    assert area >= 0
    site.lost += area


def _top(along: Size, top: int) -> tuple[Size, Size]:
    return (along[1], top), (along[0], top)


def _ends(cuts: BoardCuts, piece: PlacedPiece, left: int, right: int, *, of_pair: bool = False) -> Size:
    """A piece's widths at the datum end and the far end, as the cuts free it from a block of these widths."""
    own: list[Cut] = [cut for cut in cuts.cuts if cut.place == piece.place]
    if own:
        (cut,) = own
        ends = cut.at_mm, cut.to_mm
        return (left - ends[0], right - ends[1]) if piece.turned else ends
    if of_pair:  # one slant frees both: its other side, less the blade
        return piece.width_left_mm, piece.width_right_mm
    return left, right


def _fit(
    site: Site, plan: Plan, piece: PlacedPiece, length: int, ends: Size, stage: int, levels: dict[str, int]
) -> None:
    """A piece in its place: exactly as the plan wants it, with its own delivery."""
    planned = next(item for item in plan.pieces if item.id == piece.id)
    assert piece.id not in site.fitted
    assert levels[planned.level] == stage, "no piece is cut before its delivery, and none after"
    start, end = reversed(ends) if piece.turned and len(set(ends)) > 1 else ends
    assert length == planned.length_mm
    assert (start, end) == (planned.cut_width_start_mm, planned.cut_width_end_mm), piece.id
    site.fitted[piece.id] = (length, start, end)


def _put_away(site: Site, cuts: BoardCuts, rest: Remainder, length: int, width: int) -> None:
    """A rectangle beside the pieces: onto the rack under its name, to the left-overs, or to the scrap."""
    assert (rest.length_mm, rest.width_mm) == (length, width)
    if rest.name:
        _rack(site, cuts, rest, length, width, None)
    elif rest.keep:
        site.left_over[cuts.code, length, width] += 1
    else:
        site.lost += length * width


def _rack(site: Site, cuts: BoardCuts, rest: Remainder, length: int, width: int, ends: Size | None) -> None:
    assert rest.name not in site.racked, "a name is given once"
    assert rest.size == (f"{length} x {width}" if ends is None else f"{length} x {ends[0]} to {ends[1]}")
    site.rack[rest.name] = Racked(rest.name, cuts.code, length, width, ends, rest.waits_for)
    site.racked.append(rest.name)

"""What those who measured again see: level by level, which cut pieces serve, move, are reworked, or are re-cut."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from api.pages.words import count
from optimiser.cutting.problem import CuttingPattern
from optimiser.model.order import Order
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import NotPlanned
from optimiser.model.refit import BroughtForward, KeptPiece, Material, Recut, Refit, Reuse
from optimiser.writing.words import grouped_money, place_in_words, square_metres

Row = TypeVar("Row")


@dataclass(frozen=True)
class Rework:
    """A piece that is used again with what is done to it: 'shorten to 730 mm, trim to 167 mm', or ''."""

    piece: str
    place: str
    from_level: str
    work: str


@dataclass(frozen=True)
class RecutPlace:
    """A place that is re-cut: its size, and what from."""

    place: str
    length_mm: int
    width: str
    source: str


@dataclass(frozen=True)
class LevelWork:
    """What the crew does on a level of the newer survey but to fit the pieces in their own places."""

    level: str
    forecast: bool  # nominal gaps: nothing of it is ready to cut
    reworked: tuple[Rework, ...]
    moved: tuple[Rework, ...]
    recut: tuple[RecutPlace, ...]
    spare: tuple[KeptPiece, ...]  # pieces that were cut for this level and serve nowhere
    not_planned: tuple[str, ...]  # in words


@dataclass(frozen=True)
class LevelRefit:
    """A level of the newer survey in numbers: of pieces, of those that stay as they are (`unchanged`), and of each kind
    of work; `fitted` levels are closed."""

    level: str
    fitted: bool
    forecast: bool
    pieces: int
    unchanged: int
    reworked: int
    moved: int
    recut: int
    spare: int
    not_planned: int

    @property
    def has_work(self) -> bool:
        """Whether the crew has anything to do here but to fit the pieces in their own places."""
        return bool(self.reworked or self.moved or self.recut or self.spare or self.not_planned)


@dataclass(frozen=True)
class Cutting:
    """How one board or left-over is cut for the places that no piece serves, strip by strip."""

    stock: str
    times: int
    ready: bool
    strips: tuple[str, ...]


@dataclass(frozen=True)
class RefitView:
    """A refit in the order and words of its page, but for the work of each level and the `cuttings`, which are told a
    part at a time: so that the refit itself, with every piece of the newer survey, need not be read."""

    reused: int
    recut: int
    levels: tuple[LevelRefit, ...]
    proofs: tuple[str, ...]
    open_pieces: int
    moved: int
    reworked: int
    spare: int
    boards_taken: int
    from_on_hand: int  # places that are cut from left-overs, stock and ends
    order: Order
    order_total: str
    brought_forward: tuple[BroughtForward, ...]
    warnings: tuple[str, ...]
    cuttings: int
    account: tuple[tuple[str, str], ...]  # (what, square metres): where all board went


def refit_view(plan: Plan, refit: Refit, work: Sequence[LevelWork]) -> RefitView:
    """The refit of a plan's cut pieces, whose levels have this `work`."""
    on_hand = {item.id: item for item in refit.materials}
    open_pieces = refit.cut_pieces - refit.closed_pieces
    return RefitView(
        refit.reused_pieces,
        len(refit.recut),
        _levels(refit, work),
        _proofs(refit, open_pieces),
        open_pieces,
        len(refit.moves),
        sum(_is_reworked(reuse) for reuse in (*refit.stays, *refit.moves)),
        len(refit.kept_pieces),
        sum(refit.recut_boards.values()),
        sum(place.source in on_hand for place in refit.recut),
        refit.order,
        grouped_money(refit.order.total, refit.order.currency),
        refit.brought_forward,
        refit.warnings,
        len(refit.layouts),
        _account(refit),
    )


def _levels(refit: Refit, work: Sequence[LevelWork]) -> tuple[LevelRefit, ...]:
    pieces = Counter(piece.level for piece in refit.pieces)
    unchanged = Counter(reuse.level for reuse in refit.stays if not _is_reworked(reuse))
    return tuple(
        LevelRefit(
            one.level,
            one.level in refit.fitted_levels,
            one.forecast,
            pieces[one.level],
            unchanged[one.level],
            len(one.reworked),
            len(one.moved),
            len(one.recut),
            len(one.spare),
            len(one.not_planned),
        )
        for one in work
    )


def work_of_levels(plan: Plan, refit: Refit) -> tuple[LevelWork, ...]:
    """The work on each level of a plan whose cut pieces are refitted, in delivery order; new levels come last."""
    on_hand = {item.id: item for item in refit.materials}
    names = [level.level for level in plan.project.levels_in_order()]
    names += sorted({piece.level for piece in refit.pieces} - set(names))
    level_of = {piece.id: piece.level for piece in plan.pieces}
    reworked = _by_level((reuse.level, reuse) for reuse in refit.stays if _is_reworked(reuse))
    moves = _by_level((reuse.level, reuse) for reuse in refit.moves)
    recut = _by_level((place.level, place) for place in refit.recut)
    spare = _by_level((level_of.get(kept.piece, ""), kept) for kept in refit.kept_pieces)
    missing: dict[str, list[NotPlanned]] = _by_level((place.level, place) for place in refit.not_planned)
    forecast = _forecast_levels(refit)
    return tuple(
        LevelWork(
            name,
            name in forecast,
            tuple(_rework(reuse, level_of) for reuse in reworked[name]),
            tuple(_rework(reuse, level_of) for reuse in moves[name]),
            tuple(_recut_place(place, on_hand) for place in recut[name]),
            tuple(spare[name]),
            tuple(place_in_words(place) for place in missing[name]),
        )
        for name in names
    )


def _forecast_levels(refit: Refit) -> set[str]:
    """The levels of which something is ordered or cut by nominal gaps."""
    level_at = {piece.id: piece.level for piece in refit.pieces}
    forecast = {line.level for line in refit.order.lines if line.status == "forecast"}
    return forecast | {
        level_at[piece.id]
        for layout in refit.layouts
        if not layout.cut_ready
        for strip in layout.strips
        for piece in strip.pieces
        if piece.id in level_at
    }


def cuttings_of(refit: Refit) -> tuple[Cutting, ...]:
    """How boards and what is on hand are cut for the places that are re-cut."""
    on_hand = {item.id: item for item in refit.materials}
    return tuple(_cutting(layout, on_hand) for layout in refit.layouts)


def _by_level(rows: Iterable[tuple[str, Row]]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    for level, row in rows:
        found[level].append(row)
    return found


def _is_reworked(reuse: Reuse) -> bool:
    return reuse.trimmed or reuse.cut_to_mm is not None


def _rework(reuse: Reuse, level_of: dict[str, str]) -> Rework:
    work = [f"shorten to {reuse.cut_to_mm} mm"] if reuse.cut_to_mm is not None else []
    if reuse.trimmed:
        work.append(f"trim to {_width(reuse.width_start_mm, reuse.width_end_mm)}")
    return Rework(reuse.piece, reuse.place, level_of.get(reuse.piece, ""), ", ".join(work))


def _recut_place(place: Recut, on_hand: dict[str, Material]) -> RecutPlace:
    return RecutPlace(
        place.place,
        place.to_mm - place.from_mm,
        _width(place.cut_width_start_mm, place.cut_width_end_mm),
        _source(place.source, on_hand),
    )


def _width(start_mm: int, end_mm: int) -> str:
    return f"{start_mm} mm" if start_mm == end_mm else f"{start_mm} to {end_mm} mm"


def _source(stock: str, on_hand: dict[str, Material]) -> str:
    """A board's code, or what is on hand with its size, so that it can be found on site."""
    item = on_hand.get(stock)
    if item is None:
        return f"a new board {stock}"
    return f"{stock.replace('-', ' ', 2)}: {item.code}, {item.length_mm} × {item.width_mm} mm"


def _cutting(layout: CuttingPattern, on_hand: dict[str, Material]) -> Cutting:
    return Cutting(
        _source(layout.stock, on_hand),
        layout.repeat,
        layout.cut_ready,
        tuple(
            f"strip {strip.width_mm} mm: "
            + ", ".join(f"{piece.id} {piece.length_mm} × {piece.width_mm}" for piece in strip.pieces)
            for strip in layout.strips
        ),
    )


def _proofs(refit: Refit, open_pieces: int) -> tuple[str, ...]:
    proofs = [
        f"{refit.reused_pieces:,} of {open_pieces:,} cut pieces that may move are used again; no assignment of pieces"
        f" to places can use more than {refit.most_reusable:,}, nor more of their area: proved by duality."
    ]
    if refit.recut:
        taken, are = sum(refit.recut_boards.values()), "is" if len(refit.recut) == 1 else "are"
        proofs.append(
            f"{count(len(refit.recut), 'place')} {are} re-cut from {count(taken, 'new board')} and what is on hand; no"
            f" way of cutting takes fewer than {refit.recut_lower_bound}: proved."
        )
    return tuple(proofs)


def _account(refit: Refit) -> tuple[tuple[str, str], ...]:
    account = refit.account
    return tuple(
        (what, square_metres(area))
        for what, area in (
            ("bought", account.bought_mm2),
            ("from stock", account.stock_mm2),
            ("ordered as a supplement", account.ordered_mm2),
            ("fitted", account.fitted_mm2),
            ("used again", account.reused_mm2),
            ("re-cut", account.recut_mm2),
            ("spare pieces", account.kept_pieces_mm2),
            ("left over", account.left_over_mm2),
            ("uncut boards", account.uncut_boards_mm2),
            ("scrap", account.scrap_mm2),
        )
    )

"""A refit as text for the terminal: which piece goes where, what is re-cut, what to order."""

from __future__ import annotations

from optimiser.model.refit import Refit, Reuse
from optimiser.writing.drawing.shapes import without_control_characters
from optimiser.writing.words import counted, grouped_money, square_metres

MOST_ROWS = 30  # moves and recuts shown on the terminal; all stand in the JSON


def refit_lines(refit: Refit) -> list[str]:
    """What the terminal shows, line by line."""
    changed = [reuse for reuse in refit.stays if reuse.trimmed or reuse.cut_to_mm]
    open_pieces = refit.cut_pieces - refit.closed_pieces
    lines = [
        f"{counted(refit.cut_pieces, 'piece')} cut: {refit.closed_pieces:,} on fitted levels; {open_pieces:,} may"
        " move.",
        f"Re-used: {refit.reused_pieces:,} of {open_pieces:,}; no assignment can re-use more than"
        f" {refit.most_reusable:,}: proved.",
        f"  In their place as they are: {len(refit.stays) - len(changed):,}; in their place and reworked:"
        f" {len(changed):,}; moved: {len(refit.moves):,}; without a place, and kept: {len(refit.kept_pieces):,}.",
    ]
    for title, reuses in (("Reworked in their place", changed), ("Moves", refit.moves)):
        if reuses:
            lines += ["", title, *_some([_reuse(reuse) for reuse in reuses])]
    if refit.recut:
        taken = sum(refit.recut_boards.values())
        lines += [
            "",
            f"Re-cut: {counted(len(refit.recut), 'place')} from {counted(taken, 'board')} and what is on"
            f" hand; no way takes fewer boards than {refit.recut_lower_bound}.",
            *_some(
                [
                    f"  {item.place}: {item.to_mm - item.from_mm} mm long,"
                    f" {_ends(item.cut_width_start_mm, item.cut_width_end_mm, 'to')} wide, from {item.source}"
                    for item in refit.recut
                ]
            ),
        ]
    lines += ["", *_order(refit), "", *_account(refit)]
    for title, words in (("Warnings", refit.warnings), ("Cautions", refit.cautions)):
        lines += ["", title, *(f"- {line}" for line in words)]
    return [without_control_characters(line) for line in lines]


def _some(lines: list[str]) -> list[str]:
    more = len(lines) - MOST_ROWS
    return lines if more <= 0 else [*lines[:MOST_ROWS], f"  and {more} more: see the JSON"]


def _reuse(reuse: Reuse) -> str:
    parts = [f"  {reuse.piece}"]
    if reuse.piece != reuse.place:
        parts.append(f" to {reuse.place}")
    changes = [f"shorten to {reuse.cut_to_mm} mm"] if reuse.cut_to_mm else []
    if reuse.trimmed:
        changes.append(f"trim to {_ends(reuse.width_start_mm, reuse.width_end_mm, 'and')}")
    return "".join(parts) + (f": {', '.join(changes)}" if changes else "")


def _ends(start_mm: int, end_mm: int, word: str) -> str:
    """The width at both ends of a piece, said once where it is the same."""
    return f"{start_mm} mm" if start_mm == end_mm else f"{start_mm} {word} {end_mm} mm"


def _order(refit: Refit) -> list[str]:
    if not refit.order.lines:
        return ["Nothing more to order."]
    return [
        f"To order on top: {grouped_money(refit.order.total, refit.order.currency)}",
        *(
            f"  {line.packs} x {line.code} for {line.level}"
            + (f", order by {line.order_by}" if line.order_by else "")
            + f": {grouped_money(line.amount, refit.order.currency)}"
            for line in refit.order.lines
        ),
    ]


def _account(refit: Refit) -> list[str]:
    account = refit.account
    come = account.bought_mm2 + account.stock_mm2 + account.ordered_mm2
    parts = (
        ("fitted", account.fitted_mm2),
        ("re-used", account.reused_mm2),
        ("re-cut", account.recut_mm2),
        ("pieces kept", account.kept_pieces_mm2),
        ("left over", account.left_over_mm2),
        ("uncut boards", account.uncut_boards_mm2),
        ("scrap", account.scrap_mm2),
    )
    return [
        f"Board account: {square_metres(come)} bought, in stock and ordered = "
        + " + ".join(f"{square_metres(area)} {name}" for name, area in parts)
    ]

"""The head of a delivery's cutting sheets: which boards to open, what to take from the rack, what to keep."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from optimiser.boards.cutting_sequence import CuttingStep
from optimiser.model.plan import notches_in_words
from optimiser.model.remainder import Remainder
from optimiser.writing.crew.board_patterns import DeliveryCuts
from optimiser.writing.crew.pattern_sheets import add_pattern, cuts_in_words, side_by_side
from optimiser.writing.drawing.board_cuts import BoardCuts
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.shapes import text_width
from optimiser.writing.words import counted

_SIZE = 9.0
WHAT_IT_IS = {"board": "", "strip": " strip", "tapered": " tapered"}


def add_delivery(pages: Pages, index: PlanIndex, delivery: DeliveryCuts) -> None:
    """Open, take, keep; then each board and remainder as it is cut now."""
    steps = delivery.steps
    opened = [step for step in steps if step.taken is None]
    taken = [step.taken for step in steps if step.taken is not None]
    kept = [part for step in steps for part in step.kept]
    pages.heading("Open these boards", 12)
    pages.words(_opened(index, opened) or "None: this delivery is cut from the rack.", _SIZE + 1)
    pages.heading("Take these remainders from the rack", 12)
    if taken:
        _table(pages, index, taken, "kept with", [index.text(part.level) for part in taken])
    else:
        pages.words("None.", _SIZE)
    pages.heading("Keep these remainders: label, rack, do not cut before their level", 12)
    if kept:
        _table(pages, index, kept, "waits for", [index.text(part.waits_for) for part in kept])
    else:
        pages.words("None: all that is opened is used up.", _SIZE)
    left = _left_overs(steps)
    if left:
        pages.heading("Left-overs to keep, marked with their size", 12)
        pages.words(left, _SIZE)
    pages.y -= 4
    for pattern in delivery.patterns:
        add_pattern(pages, pattern)
    if delivery.narrow:
        _narrow(pages, delivery.narrow)


def _opened(index: PlanIndex, opened: Sequence[CuttingStep]) -> str:
    """'24 x B-120: B001 to B024; 1 x B-120 ON SITE (stock-1): S003'."""
    groups: dict[tuple[bool, str, str], list[str]] = {}
    for step in opened:
        groups.setdefault((step.on_site, step.code, step.stock), []).append(step.board)
    return "; ".join(
        f"{len(names)} x {index.text(code)}{f' ON SITE ({index.text(stock)})' if on_site else ''}: {ranges(names)}"
        for (on_site, code, stock), names in groups.items()
    )


def ranges(names: Sequence[str]) -> str:
    """Names that follow one another as ranges: 'B001 to B004, B007, B008'."""
    runs: list[list[str]] = []
    for name in names:
        if runs and _follows(runs[-1][-1], name):
            runs[-1].append(name)
        else:
            runs.append([name])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs)


def _follows(before: str, after: str) -> bool:
    return (
        before[:1] == after[:1]
        and before[1:].isdigit()
        and after[1:].isdigit()
        and int(after[1:]) == int(before[1:]) + 1
    )


def _table(
    pages: Pages, index: PlanIndex, parts: Sequence[Remainder], heading: str, levels: Sequence[str]
) -> None:
    wide = max([52.0, *(8.0 + 5.6 * len(level) for level in levels)])
    names = max(8.0 + text_width(part.name, _SIZE) for part in parts)
    codes = max(42.0, *(8.0 + text_width(index.text(part.code), _SIZE) for part in parts))
    columns = [
        Column("remainder", max(names, 60.0)), Column("length x width", 96),
        Column("board", min(codes, 90.0)), Column(heading, min(wide, 90.0)),
    ]  # fmt: skip
    rows = [
        (part.name, f"{part.size}{WHAT_IT_IS[part.kind]}", index.text(part.code), level)
        for part, level in zip(parts, levels, strict=True)
    ]
    pages.table(*side_by_side(columns, rows, pages.content_width), _SIZE)


def _left_overs(steps: Iterable[CuttingStep]) -> str:
    """'2 x B-120 1200 x 340 (B001, B003)'."""
    found: dict[tuple[str, int, int], Counter[str]] = {}
    for step in steps:
        for rest in step.left_overs:
            found.setdefault((step.code, rest.length_mm, rest.width_mm), Counter())[step.board] += 1
    return "; ".join(
        f"{names.total()} x {code} {length} x {width} (from {', '.join(names)})"
        for (code, length, width), names in found.items()
    )


def _narrow(pages: Pages, narrow: Sequence[BoardCuts]) -> None:
    """Remainders with a single strip: a row each, with the cuts and what comes of them."""
    pages.heading("From the rack: one strip each", 12, keep_with=60)
    pages.words(
        f"{counted(len(narrow), 'remainder')}; rip from the edge and cross-cut from the end that were cut last.",
        _SIZE,
    )
    wide = pages.content_width
    columns = [
        Column("take", wide * 0.15), Column("length x width", wide * 0.14), Column("cut", wide * 0.22),
        Column("pieces", wide * 0.25), Column("keep", wide * 0.24),
    ]  # fmt: skip
    pages.table(columns, [_narrow_row(cuts) for cuts in narrow], _SIZE)


def _narrow_row(cuts: BoardCuts) -> tuple[str, ...]:
    kept = [f"{rest.name}, {rest.size}, waits for {rest.waits_for}" for rest in cuts.stays]
    kept += [f"left-over {rest.length_mm} x {rest.width_mm}" for rest in cuts.remainders if rest.keep]
    pieces = []
    for piece in cuts.pieces:
        notches = notches_in_words(piece.notches)
        pieces.append(f"{piece.place} · {piece.name}" + (f" (notch {notches})" if notches else ""))
    return (
        cuts.name,
        f"{cuts.length_mm} x {cuts.width_mm}",
        "; ".join(words.split("  ", 1)[-1] for words in cuts_in_words(cuts)) or "none, it fits as it is",
        "\n".join(pieces),
        "\n".join(kept),
    )

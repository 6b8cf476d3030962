"""The head of a delivery's cutting sheets: which boards to open, what to take from the rack, what to keep; then the
boards and remainders as they are cut now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from optimiser.boards.cutting_steps import CuttingStep
from optimiser.model.remainder import Remainder
from optimiser.writing.crew.board_patterns import DeliveryCuts
from optimiser.writing.crew.pattern_sheets import add_patterns, side_by_side
from optimiser.writing.drawing.pdf_pages import Column, Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.shapes import FIGURES, text_width

_SIZE = 10.0
WHAT_IT_IS = {"board": "", "strip": " strip", "tapered": " tapered"}
HOW_TO_CUT = (
    "Mark all lines from the board's fresh edge (0 in its drawing), then rip, from 0 up; then cross-cut each strip at"
    " the marks at its right, from the datum end. Cut only what is drawn; a remainder's fresh edge is the one that was"
    " cut last."
)


def add_delivery(pages: Pages, index: PlanIndex, delivery: DeliveryCuts) -> None:
    """Open, take, keep; then each board and remainder as it is cut now."""
    steps = delivery.steps
    opened = [step for step in steps if step.taken is None]
    taken = [step.taken for step in steps if step.taken is not None]
    kept = [part for step in steps for part in step.kept]
    pages.heading("Open these boards", FIGURES)
    pages.words(_opened(index, opened) or "None: this delivery is cut from the rack.", FIGURES)
    if taken:
        pages.heading("Take these remainders from the rack", FIGURES)
        _table(pages, index, taken, "kept with", [index.text(part.level) for part in taken])
    else:
        pages.words("Take no remainders from the rack.", _SIZE)
    if kept:
        pages.heading("Keep these remainders: label, rack, do not cut before their level", FIGURES)
        _table(pages, index, kept, "waits for", [index.text(part.waits_for) for part in kept])
    else:
        pages.words("Keep no remainders: nothing of what is opened waits for a later level.", _SIZE)
    left = _left_overs(index, steps)
    if left:
        pages.heading("Left-overs to keep, marked with their size", FIGURES)
        pages.words(left, _SIZE)
    pages.heading("Cut", FIGURES, keep_with=120)
    pages.words(HOW_TO_CUT + _kerf_words(index, steps), _SIZE, after=6)
    if thin := [rip.words for rip in index.plan.thin_rips if rip.layout in {step.layout for step in steps}]:
        pages.words(f"Thinner than strip_min_mm, with care: {index.text('; '.join(thin))}.", _SIZE, after=6)
    add_patterns(pages, delivery.patterns, delivery.narrow)


def _kerf_words(index: PlanIndex, steps: Sequence[CuttingStep]) -> str:
    """What the saw takes beyond each mark; nothing where a blade takes nothing."""
    kerfs = {index.plan.project.building.cutting_rules_of(step.code).kerf_mm for step in steps} - {0}
    return "".join(f" The saw takes {kerf} mm beyond each mark." for kerf in sorted(kerfs))


def _opened(index: PlanIndex, opened: Sequence[CuttingStep]) -> str:
    """'24 x B-120: B001 to B024; 1 x B-120 ON SITE 1200 x 380 (stock-1): S003; 1 x B-120 FROM THE RACK 1200 x 175:
    B002-R1': what lies there is found by its size."""
    racked = {item.name for item in index.plan.job.at_hand if item.racked}
    groups: dict[tuple[str, str], list[str]] = {}
    for step in opened:
        found_by = ""
        if step.on_site:
            lies = "FROM THE RACK" if step.stock in racked else "ON SITE"
            known_as = f" ({index.text(step.stock)})" if step.stock != step.board else ""
            found_by = f" {lies} {step.length_mm} x {step.width_mm}{known_as}"
        groups.setdefault((step.code, found_by), []).append(step.board)
    return "; ".join(
        f"{len(names)} x {index.text(code)}{found_by}: {ranges(names)}"
        for (code, found_by), names in groups.items()
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
    """Remainders with their size, board and level, in as many blocks as stand beside each other."""
    rows = [
        (part.name, f"{part.size}{WHAT_IT_IS[part.kind]}", index.text(part.code), level)
        for part, level in zip(parts, levels, strict=True)
    ]
    headings = ("remainder", "length x width", "board", heading)
    widths = [
        max(text_width(heading, _SIZE, True), *(text_width(row[place], _SIZE) for row in rows)) + 8
        for place, heading in enumerate(headings)
    ]
    columns = [Column(name, min(wide, 150.0)) for name, wide in zip(headings, widths, strict=True)]
    pages.table(*side_by_side(columns, rows, pages.content_width), _SIZE)


def _left_overs(index: PlanIndex, steps: Iterable[CuttingStep]) -> str:
    """'2 x B-120 1200 x 340 (from B001, B003)'."""
    found: dict[tuple[str, int, int], Counter[str]] = {}
    for step in steps:
        for rest in step.left_overs:
            found.setdefault((step.code, rest.length_mm, rest.width_mm), Counter())[step.board] += 1
    return "; ".join(
        f"{names.total()} x {index.text(code)} {length} x {width} (from {index.text(', '.join(names))})"
        for (code, length, width), names in found.items()
    )

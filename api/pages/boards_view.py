"""Cutting layouts as the pages show them: those of one level's delivery, so many at a time, drawn to scale.

The writer of the drawings escapes every name of the plan, so that its SVG may stand in a page as it is.
"""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from optimiser.plan import Plan
from optimiser.writing.board_cuts import board_cuts
from optimiser.writing.drawings import board_drawing
from optimiser.writing.elevation import elevation_drawing
from optimiser.writing.layout_svg import layout_in_words, run_in_words, svg_of
from optimiser.writing.plan_index import PlanIndex
from optimiser.writing.run_view import run_view

AT_A_TIME = 12
WIDE, NARROW = 960, 336  # points: a desk's screen, a telephone's


@dataclass(frozen=True)
class DrawnLayout:
    """A layout with its picture; `number` counts the plan's layouts from 1."""

    number: int
    stock: str
    level: str
    repeat: int
    on_site: bool
    pieces: int
    strips: int
    kept: tuple[str, ...]
    levels: tuple[str, ...]
    picture: Markup
    narrow: Markup


@dataclass(frozen=True)
class BoardsPage:
    """Layouts `first` to `last` of the `count` that a level's delivery has (or the plan, when `level` is 0)."""

    level: int
    level_name: str
    drawn: tuple[DrawnLayout, ...]
    count: int
    boards: int
    first: int
    last: int
    part: int
    parts: int


def boards_page(index: PlanIndex, level: int, part: int) -> BoardsPage:
    """One part of a level's layouts, counted from 1. Raises IndexError for a level or part that is not there."""
    plan = index.plan
    if not 0 <= level <= len(index.levels):
        raise IndexError(f"The building has {len(index.levels)} levels; there is no level {level}.")
    name = index.levels[level - 1].level if level else ""
    numbers = [
        number for number, layout in enumerate(plan.layouts, 1) if not level or index.level_of(layout) == name
    ]
    parts = max(1, -(-len(numbers) // AT_A_TIME))
    if not 1 <= part <= parts:
        raise IndexError(f"There are {parts} parts of these layouts; there is no part {part}.")
    first = (part - 1) * AT_A_TIME
    shown = numbers[first : first + AT_A_TIME]
    return BoardsPage(
        level,
        name,
        tuple(drawn_layout(index, number) for number in shown),
        len(numbers),
        sum(plan.layouts[number - 1].repeat for number in numbers),
        first + 1,
        first + len(shown),
        part,
        parts,
    )


def drawn_layout(index: PlanIndex, number: int) -> DrawnLayout:
    """A layout with its picture. Raises IndexError when the plan has no such layout."""
    if not 1 <= number <= len(index.plan.layouts):
        raise IndexError(f"The plan has {len(index.plan.layouts)} layouts; there is no layout {number}.")
    layout = index.plan.layouts[number - 1]
    cuts = board_cuts(index, layout)
    pictures = []
    for width, height in ((640, 520), (NARROW, 420)):
        drawing = board_drawing(cuts, width, height)
        drawing.title, drawing.description = f"Layout {number}", layout_in_words(cuts)
        pictures.append(Markup(svg_of(drawing, f"layout-{number}-{width}")))
    levels = {index.pieces[piece.id].level for strip in layout.strips for piece in strip.pieces}
    return DrawnLayout(
        number,
        cuts.stock,
        cuts.level,
        layout.repeat,
        index.is_offcut(layout),
        sum(len(strip.pieces) for strip in layout.strips),
        len(layout.strips),
        tuple(f"{rest.length_mm} × {rest.width_mm}" for rest in cuts.remainders if rest.keep),
        tuple(level.level for level in index.levels if level.level in levels),
        pictures[0],
        pictures[1],
    )


def run_pictures(index: PlanIndex, run: str) -> tuple[Markup, Markup]:
    """A run drawn for a wide and for a narrow screen."""
    view = run_view(index, run)
    pictures = []
    for width in (WIDE, NARROW):
        drawing = elevation_drawing(index, view, width)
        drawing.title = f"Run {index.text(run)} on level {index.text(view.run.level)}"
        drawing.description = run_in_words(view)
        pictures.append(Markup(svg_of(drawing, f"run-{width}")))
    return pictures[0], pictures[1]


def layout_counts(plan: Plan, index: PlanIndex) -> tuple[tuple[int, str, int], ...]:
    """(place, level, layouts) of each level whose delivery has layouts."""
    found = [0] * len(index.levels)
    for layout in plan.layouts:
        found[index.level_place[index.level_of(layout)]] += 1
    return tuple(
        (place, level.level, found[place - 1])
        for place, level in enumerate(index.levels, 1)
        if found[place - 1]
    )

"""What is cut with a level's delivery as the pages show it, so many at a time, drawn to scale; and whole boards.

The writer of the drawings escapes every name of the plan, so that its SVG may stand in a page as it is.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from markupsafe import Markup

from api.pages.charts import readable
from api.pages.figures import figure
from api.pages.words import no_such
from optimiser.boards.cutting_steps import CuttingStep
from optimiser.model.remainder import Remainder
from optimiser.model.staging import DeliverySequence
from optimiser.writing.drawing.board_cuts import board_cuts
from optimiser.writing.drawing.boards import board_drawing
from optimiser.writing.drawing.elevation import elevation_by_rows, elevation_drawing
from optimiser.writing.drawing.placed_board import BoardCuts
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import run_view
from optimiser.writing.drawing.shapes import Drawing
from optimiser.writing.drawing.step_cuts import step_cuts
from optimiser.writing.drawing.svg import layout_in_words, run_in_words, svg_of

AT_A_TIME = 12
# Points of the paper for a desk's screen and a telephone's: shown so much larger as its text must be to be read.
WIDE, NARROW, PAPER = 960, 256, 548  # a run's width
BOARD_WIDE, BOARD_NARROW = (480, 400), (250, 330)  # a board's width and height


@dataclass(frozen=True)
class DrawnStep:
    """A board that is opened, or a remainder that is taken from the rack, as it is cut with one delivery.

    `number` is its layout's. `kept` are the remainders that stay, `left_over` what is over and kept.
    """

    number: int
    name: str
    taken: bool
    stock: str
    size: str
    on_site: bool
    levels: tuple[str, ...]
    pieces: int
    kept: tuple[Remainder, ...]
    left_over: tuple[str, ...]
    ready: bool
    picture: Markup
    narrow: Markup


@dataclass(frozen=True)
class DrawnLayout:
    """A layout with its picture, whole and delivery by delivery; `previous` and `following` are the numbers of its
    neighbours in the plan."""

    number: int
    previous: int | None
    following: int | None
    name: str
    stock: str
    level: str
    repeat: int
    on_site: bool
    pieces: int
    strips: int
    kept: tuple[str, ...]
    levels: tuple[str, ...]
    ready: bool
    picture: Markup
    narrow: Markup
    steps: tuple[DrawnStep, ...]


@dataclass(frozen=True)
class BoardsPage:
    """Steps `first` to `last` of the `count` that a level's delivery has (or the plan, when `level` is 0): so many
    boards are opened and so many remainders taken in all of them."""

    level: int
    level_name: str
    drawn: tuple[DrawnStep, ...]
    count: int
    opened: int
    taken: int
    kept: int
    ready: bool
    first: int
    last: int
    part: int
    parts: int


@dataclass(frozen=True)
class ListedSteps:
    """What is cut with a level: (layout's number, name of the board or remainder, delivery) in the order of work; how
    many remainders are taken and kept; and whether all of it is ready to cut."""

    steps: tuple[tuple[int, str, DeliverySequence], ...]
    taken: int
    kept: int
    ready: bool

    def parts(self) -> int:
        """In how many parts it is shown."""
        return max(1, -(-len(self.steps) // AT_A_TIME))

    def shown(self, part: int) -> tuple[tuple[int, str, DeliverySequence], ...]:
        """The steps of a part, counted from 1. Raises IndexError for a part that is not there."""
        if not 1 <= part <= self.parts():
            raise IndexError(no_such("What is cut here", self.parts(), "part", part))
        return self.steps[(part - 1) * AT_A_TIME : part * AT_A_TIME]


def listed_steps(index: PlanIndex, level: int) -> ListedSteps:
    """What is cut with a level, by its place from 1 (0: with all). Raises IndexError for a level that is not there.

    What is cut for several levels of one delivery is shown with the first of them.
    """
    if not 0 <= level <= len(index.levels):
        raise IndexError(no_such("The building", len(index.levels), "level", level))
    name = index.levels[level - 1].level if level else ""
    steps = [step for step in index.sequence.steps if not level or step.levels[0] == name]
    return ListedSteps(
        tuple((step.layout, step.name, step.stage) for step in steps),
        sum(step.taken is not None for step in steps),
        sum(len(step.kept) for step in steps),
        not any(index.is_forecast(piece) for step in steps for piece in step.pieces),
    )


def boards_page(index: PlanIndex, level: int, part: int, listed: ListedSteps | None = None) -> BoardsPage:
    """One part of what is cut with a level, counted from 1; where `listed` says all that is, of the index no other
    boards are asked for than those of this part. Raises IndexError for a level or part that is not there."""
    listed = listed or listed_steps(index, level)
    shown, first = listed.shown(part), (part - 1) * AT_A_TIME
    steps = {(step.name, step.stage): step for step in index.sequence.steps}
    return BoardsPage(
        level,
        index.levels[level - 1].level if level else "",
        tuple(drawn_step(index, steps[name, stage]) for _, name, stage in shown),
        len(listed.steps),
        len(listed.steps) - listed.taken,
        listed.taken,
        listed.kept,
        listed.ready,
        first + 1,
        first + len(shown),
        part,
        listed.parts(),
    )


def drawn_step(index: PlanIndex, step: CuttingStep) -> DrawnStep:
    """A step with its picture."""
    cuts = step_cuts(index, step)
    return DrawnStep(
        step.layout,
        step.name,
        step.taken is not None,
        stock_of(step, cuts),
        size_of(step),
        step.on_site,
        step.levels,
        len(step.pieces),
        step.kept,
        tuple(f"{rest.length_mm} x {rest.width_mm}" for rest in step.left_overs),
        cuts.ready,
        step_picture(cuts, step, BOARD_WIDE),
        step_picture(cuts, step, BOARD_NARROW),
    )


def stock_of(step: CuttingStep, cuts: BoardCuts) -> str:
    """What a step's board is called where it lies: stock on site by its row, all else by its code."""
    return cuts.stock if step.on_site and not step.taken else cuts.code


def size_of(step: CuttingStep) -> str:
    """The size of what is opened or taken."""
    return step.taken.size if step.taken else f"{step.length_mm} x {step.width_mm}"


def drawn_layout(index: PlanIndex, number: int) -> DrawnLayout:
    """A layout with its pictures. Raises IndexError when the plan has no such layout."""
    numbers = index.layout_numbers
    if number not in numbers:
        raise IndexError(no_such("The plan", len(numbers), "layout", number))
    place = numbers.index(number)
    layout = dict(index.plan.numbered_layouts)[number]
    cuts = board_cuts(index, layout)
    title, name = f"Cutting pattern {number}", f"layout-{number}"
    wide, narrow = (_picture(cuts, size, title, name) for size in (BOARD_WIDE, BOARD_NARROW))
    levels = {index.pieces[piece.id].level for strip in layout.strips for piece in strip.pieces}
    steps = [step for step in index.sequence.steps if step.layout == number]
    board = steps[0].board if steps else ""
    return DrawnLayout(
        number,
        numbers[place - 1] if place else None,
        numbers[place + 1] if place + 1 < len(numbers) else None,
        board,
        cuts.stock,
        cuts.level,
        layout.repeat,
        index.is_offcut(layout),
        sum(len(strip.pieces) for strip in layout.strips),
        len(layout.strips),
        tuple(f"{rest.length_mm} × {rest.width_mm}" for rest in cuts.remainders if rest.keep),
        tuple(level.level for level in index.levels if level.level in levels),
        cuts.ready,
        wide,
        narrow,
        tuple(drawn_step(index, step) for step in steps if step.board == board) if len(steps) > 1 else (),
    )


def step_picture(cuts: BoardCuts, step: CuttingStep, size: tuple[int, int]) -> Markup:
    """What is cut in a step, drawn in a width and height."""
    return _picture(cuts, size, f"{step.name} with level {cuts.level}", f"step-{step.name}-{step.stage}")


def _picture(cuts: BoardCuts, size: tuple[int, int], title: str, name: str) -> Markup:
    """Cuts drawn in a width and height."""
    drawing = board_drawing(cuts, *size)
    drawing.title, drawing.description = title, layout_in_words(cuts)
    return readable(svg_of(drawing, f"{name}-{size[0]}"))


def run_pictures(index: PlanIndex, run: str) -> tuple[Markup, Markup, Markup]:
    """A run drawn for a wide screen, for a narrow one, and row by row for A4 or Letter."""
    view = run_view(index, run)
    title = f"Run {index.text(run)} on level {index.text(view.run.level)}"
    words = run_in_words(index, view)

    def picture(drawing: Drawing, name: str) -> Markup:
        drawing.title, drawing.description = title, words
        return readable(svg_of(drawing, name))

    wide, narrow = (
        picture(elevation_drawing(index, view, width), f"run-{width}") for width in (WIDE, NARROW)
    )
    rows = elevation_by_rows(index, view, PAPER)
    paper = (picture(row, f"run-{PAPER}-{number}") for number, row in enumerate(rows, 1))
    return wide, narrow, Markup("").join(paper)


@figure
def step_counts(index: PlanIndex) -> tuple[tuple[int, str, int], ...]:
    """(place, level, boards and remainders) of each level with whose delivery anything is cut."""
    found = Counter(step.levels[0] for step in index.sequence.steps)
    return tuple(
        (place, level.level, found[level.level])
        for place, level in enumerate(index.levels, 1)
        if found[level.level]
    )


@figure
def layout_numbers(index: PlanIndex) -> tuple[int, ...]:
    """The numbers of a plan's layouts, in its order."""
    return index.layout_numbers

"""`cutting-sheets.pdf`: the crew's book, a level after the other in the order of work.

A cover; then delivery by delivery what to measure first, what is opened, taken from the rack and kept, the boards as
they are cut now; then level by level what to carry to each run, and the runs with their set-out. Labels are a file of
their own. Nominal levels are withheld, or printed on pages that say that they are not ready to cut. Printed in black
on A4 or Letter; figures that are read at arm's length are 12 points high, and nothing is under 9.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimiser.errors.listed import listed
from optimiser.model.plan import Plan
from optimiser.writing.crew.board_patterns import (
    DeliveryCuts,
    cuts_by_delivery,
    places_of_pieces,
    ready_and_not,
)
from optimiser.writing.crew.cover import Printed, cover_of
from optimiser.writing.crew.delivery_sheets import add_delivery
from optimiser.writing.crew.edge_sheets import add_edges, add_moved_brackets
from optimiser.writing.crew.kitting_list import add_kitting_list
from optimiser.writing.crew.measure_first import add_measure_first
from optimiser.writing.crew.run_sheets import add_runs
from optimiser.writing.drawing.pdf_file import pdf_of
from optimiser.writing.drawing.pdf_pages import Pages
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.print_faces import printable
from optimiser.writing.drawing.sheet_frame import NOT_FOR_CUTTING, frame_of, levels_to_print
from optimiser.writing.words import counted, question_in_words

_MOST_QUESTIONS = 30  # of a level, on its sheets


def cutting_sheets_pdf(
    plan: Plan,
    paper: str = "A4",
    *,
    levels: Sequence[str] | None = None,
    revision: str = "",
    with_nominal: bool = False,
) -> bytes:
    """The cutting sheets of a plan.

    `paper` is A4 or Letter. `levels`: print these alone (None: all in delivery order, as many as one file
    holds; the cover says which are left out). Levels with a nominal gap are withheld; `with_nominal` prints them, every
    page marked as not ready to cut. `revision` stands beside the order reference on every page. Raises ValueError
    for an unknown paper or level.
    """
    index = PlanIndex(plan, printable)
    chosen, left_out = levels_to_print(index, levels)
    deliveries = cuts_by_delivery(index)
    body = Pages(paper)
    printed = _print(body, index, chosen, left_out, deliveries, with_nominal)
    pages_before, cover = 1, cover_of(index, paper, deliveries, printed, 1)
    while len(cover.sheets) != pages_before:
        pages_before = len(cover.sheets)
        cover = cover_of(index, paper, deliveries, printed, pages_before)
    return pdf_of(frame_of(index, "Cutting sheets", revision), [cover, body])


def _print(
    body: Pages,
    index: PlanIndex,
    chosen: Sequence[str],
    left_out: Sequence[str],
    deliveries: Mapping[int, DeliveryCuts],
    with_nominal: bool,
) -> Printed:
    """Everything after the cover: cutting and fitting, delivery by delivery."""
    places = places_of_pieces(deliveries)
    cutting_at: dict[int, int] = {}
    fitting_at: dict[str, int] = {}
    withheld: list[str] = []
    stages = index.stages_of(chosen)
    for stage in stages:
        levels = [level for level in index.levels_of_stage[stage] if level in chosen]
        names = ", ".join(index.text(level) for level in index.levels_of_stage[stage])
        if stage in deliveries:
            ready, other = ready_and_not(index, deliveries[stage])
            for mark, cuts in (("", ready), (NOT_FOR_CUTTING, other)):
                if cuts.steps and (with_nominal or not mark):
                    body.mark = mark
                    cutting_at.setdefault(stage, len(body.sheets))
                    body.new_page(f"{names} · cutting")
                    body.bookmark(f"{names}: cutting{' (nominal)' if mark else ''}")
                    _open_questions(body, index, levels, in_full=False)
                    for level in levels:
                        if (level in index.forecast_levels) == bool(mark):
                            add_measure_first(body, index, level)
                    add_delivery(body, index, cuts)
        for level in levels:
            nominal = level in index.forecast_levels
            if nominal and not with_nominal:
                withheld.append(level)
                continue
            runs = [run.run for run in index.plan.project.runs if run.level == level]
            if any(index.pieces_of_run.get(run) or index.not_planned_of_run.get(run) for run in runs):
                body.mark = NOT_FOR_CUTTING if nominal else ""
                fitting_at[level] = len(body.sheets)
                body.new_page(f"{index.text(level)} · fitting")
                body.bookmark(f"{index.text(level)}: fitting{' (nominal)' if nominal else ''}")
                _open_questions(body, index, [level], in_full=True)
                add_kitting_list(body, index, level)
                add_edges(body, index, level)
                add_moved_brackets(body, index, level)
                add_runs(body, index, runs, places)
    return Printed(tuple(chosen), tuple(left_out), tuple(withheld), cutting_at, fitting_at)


def _open_questions(pages: Pages, index: PlanIndex, levels: Sequence[str], *, in_full: bool) -> None:
    """What is asked of these levels' survey: measure there again before anything is cut."""
    asked = [question for question in index.plan.questions if question.level in levels]
    if not asked:
        return
    pages.words(
        f"{counted(len(asked), 'question')} to this survey: measure again before cutting.", 10, bold=True
    )
    if in_full:
        for question in asked[:_MOST_QUESTIONS]:
            pages.words(f"•  {index.text(question_in_words(question))}", 9.5, after=1.5)
        if len(asked) > _MOST_QUESTIONS:
            pages.words(
                f"And {len(asked) - _MOST_QUESTIONS} more: barrier-orders survey prints them all.", 9.5
            )
    else:
        places = dict.fromkeys(f"{question.run} at {question.at_mm}" for question in asked)
        shown = listed(list(places), _MOST_QUESTIONS)
        pages.words(f"In mm from the run's start: {index.text(shown)}. See the fitting sheets.", 9.5)

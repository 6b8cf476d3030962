"""Which gap? Every nominal gap in a range, and boards, oversize limits and brackets side by side.

Boards against the gap are a saw-tooth: at 150 mm a strip is 165 mm wide and six come out of a 1000 mm board, at
151 mm it is 167 mm and five do. A row an option; the figures are those that a plan of the surveyed building would
have at that gap. The tested detail, local code and a licensed practitioner decide which gap may be built.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from fnmatch import fnmatchcase
from fractions import Fraction
from itertools import pairwise
from itertools import product as every_combination
from math import ceil, floor
from typing import Any

from pydantic import ValidationError

from optimiser.gap_options import Choice, Comparison, GapOption, with_best, with_steps
from optimiser.joints import lay_out
from optimiser.plan import Staging
from optimiser.project import Detail, Gap, Project
from optimiser.quantities import Quantities, cost_cents, flat_fractions, needed_of, quantities_of
from optimiser.reading.problems import CannotBeDone
from optimiser.windows import WidthRates

MOST_OPTIONS = 20_000


def compare(
    project: Project,
    *,
    from_mm: int,
    to_mm: int,
    step_mm: int = 1,
    boards: Sequence[Sequence[str]] = (),
    oversize: Sequence[tuple[Decimal, Decimal]] = (),
    insertion: Sequence[tuple[Decimal, Decimal, Decimal]] = (),
    brackets: Sequence[Sequence[str]] = (),
    runs: Sequence[str] = (),
    shifted: bool = False,
    staging: Staging = "whole",
    time_limit: float | None = None,
    seed: int = 0,
    progress: Callable[[int, int], None] | None = None,
) -> Comparison:
    """Every gap from `from_mm` to `to_mm` by `step_mm`, with every combination of the choices given.

    Each of `boards`, `oversize`, `insertion` and `brackets` lists choices (see `Choice`); none: as the project has
    it. `runs` are names or patterns such as '*-N': only these runs are compared. Every run's gap is set to the
    option's; with `shifted` its own gaps are moved instead, so that their mean along the run is the option's.
    `time_limit` (seconds) is that of one option's solver; `progress` is told options done and in all. Raises
    CannotBeDone, with every reason, for options that make no sense.
    """
    compared = _only(project, runs)
    no_limits: list[tuple[Decimal, Decimal] | None] = [None]
    no_band: list[tuple[Decimal, Decimal, Decimal] | None] = [None]
    choices = [
        Choice(tuple(codes), limits, band, tuple(sizes))
        for codes, limits, band, sizes in every_combination(
            boards or [()], [*oversize] or no_limits, [*insertion] or no_band, brackets or [()]
        )
    ]
    gaps = _gaps_between(from_mm, to_mm, step_mm, len(choices))
    chosen = [_with_choice(compared, choice) for choice in choices]
    options: list[GapOption] = []
    for choice, as_chosen in zip(choices, chosen, strict=True):
        found: list[GapOption] = []
        for gap_mm in gaps:
            found.append(_option(as_chosen, choice, gap_mm, shifted, staging, time_limit, seed))
            if progress is not None:
                progress(len(options) + len(found), len(gaps) * len(choices))
        options += with_steps(found)
    return Comparison(
        options=tuple(with_best(options, several=len(choices) > 1)),
        edge_mm=sum(run.length_mm for run in compared.runs),
        runs=len(compared.runs),
        currency=project.project.currency,
        shifted=shifted,
        notes=tuple(_notes(project, compared, shifted)),
    )


def _gaps_between(from_mm: int, to_mm: int, step_mm: int, choices: int) -> range:
    wrong = []
    if from_mm < 1:
        wrong.append(f"the first gap is {from_mm} mm: give 1 mm or more, such as --from 120")
    if to_mm < from_mm:
        wrong.append(
            f"the gaps go from {from_mm} to {to_mm} mm: the second must not be the smaller; swap them"
        )
    if step_mm < 1:
        wrong.append(f"the step is {step_mm} mm: give 1 mm or more")
    if not wrong and (count := ((to_mm - from_mm) // step_mm + 1) * choices) > MOST_OPTIONS:
        wrong.append(
            f"these are {count} options, more than {MOST_OPTIONS}: take a larger step or a smaller range"
        )
    if wrong:
        raise CannotBeDone(wrong)
    return range(from_mm, to_mm + 1, step_mm)


def _only(project: Project, patterns: Sequence[str]) -> Project:
    """The project with only the runs that one of the patterns names; all without patterns."""
    if not patterns:
        return project
    named = [run for run in project.runs if any(fnmatchcase(run.run, pattern) for pattern in patterns)]
    idle = [p for p in patterns if not any(fnmatchcase(run.run, p) for run in project.runs)]
    if idle:
        known = ", ".join(run.run for run in project.runs[:8])
        raise CannotBeDone([f"no run is called {pattern}; the runs are {known} ..." for pattern in idle])
    return project.with_runs(named)


def _with_choice(project: Project, choice: Choice) -> Project:
    """The project under a choice. Raises CannotBeDone, with every reason, when that makes no sense."""
    wrong: list[str] = []
    update: dict[str, Any] = {}
    board_codes = [board.code for board in project.products_of("board")]
    bracket_codes = [bracket.code for bracket in project.products_of("bracket")]
    for codes, known, kind in (
        (choice.boards, board_codes, "board"),
        (choice.brackets, bracket_codes, "bracket"),
    ):
        wrong += [
            f"{code} is no {kind} of the products; they are {', '.join(known)}"
            for code in codes
            if code not in known
        ]
    if choice.boards:
        update["runs"] = tuple(run.model_copy(update={"board": choice.boards}) for run in project.runs)
    if choice.brackets:
        update["products"] = tuple(
            item for item in project.products if item.kind != "bracket" or item.code in choice.brackets
        )
    rules = {name: getattr(project.detail, name) for name in project.detail.model_fields_set}
    if choice.oversize:
        rules.update(zip(("oversize_min", "oversize_max"), choice.oversize, strict=True))
    if choice.insertion:
        names = ("bracket_insertion_min", "bracket_insertion", "bracket_insertion_max")
        rules.update(zip(names, choice.insertion, strict=True))
    try:
        update["detail"] = Detail(**rules)
        WidthRates.of(update["detail"])
    except ValidationError as error:
        wrong += [f"{choice.words}: {fault['msg'].removeprefix('Value error, ')}" for fault in error.errors()]
    except ValueError as error:
        wrong.append(str(error))
    if wrong:
        raise CannotBeDone(wrong)
    return project.model_copy(update=update)


def at_gap(project: Project, gap_mm: int, shifted: bool = False) -> Project | None:
    """The project with every run's gap at `gap_mm`; with `shifted` its own gaps moved to that mean.

    The gaps count as measured: the question is what the surveyed building takes, so that later levels may use what
    earlier ones leave. None when shifting leaves some run a gap of less than 1 mm.
    """
    if not shifted:
        gaps = tuple(
            Gap.model_construct(run=run.run, at_mm=0, gap_mm=gap_mm, basis="measured", tolerance_mm=None)
            for run in project.runs
        )
        return project.model_copy(update={"gaps": gaps})
    moved: list[Gap] = []
    own = project.gaps_of()
    for run in project.runs:
        shift = gap_mm - _mean_gap(own[run.run], run.length_mm)
        for gap in own[run.run]:
            if gap.gap_mm + shift < 1:
                return None
            moved.append(gap.model_copy(update={"gap_mm": gap.gap_mm + shift, "basis": "measured"}))
    return project.model_copy(update={"gaps": tuple(moved)})


def _mean_gap(gaps: Sequence[Gap], length_mm: int) -> int:
    """The mean gap along a run, to the nearest millimetre: linear between positions, constant beyond them."""
    area = Fraction(gaps[0].gap_mm * gaps[0].at_mm + gaps[-1].gap_mm * (length_mm - gaps[-1].at_mm))
    for before, after in pairwise(gaps):
        area += Fraction((before.gap_mm + after.gap_mm) * (after.at_mm - before.at_mm), 2)
    return floor(area / length_mm + Fraction(1, 2))


def _option(
    project: Project,
    choice: Choice,
    gap_mm: int,
    shifted: bool,
    staging: Staging,
    time_limit: float | None,
    seed: int,
) -> GapOption:
    here = at_gap(project, gap_mm, shifted)
    rates = WidthRates.of(project.detail)
    width = None if shifted else rates.width_min(gap_mm)
    empty = width is not None and width > rates.width_max(
        gap_mm
    )  # no need to look along every run for a place
    found = None if here is None or empty else quantities_of(here, staging, time_limit, seed)
    board = project.product(project.runs[0].board[0])
    kerf = project.detail.kerf_mm
    strips = None if width is None else ((board.width_mm or 0) + kerf) // (width + kerf)
    nothing = GapOption(
        gap_mm=gap_mm,
        choice=choice,
        cut_width_mm=width,
        strips_per_board=strips,
        boards=None,
        lower_bound=None,
        boards_by_code={},
        boards_per_100_m=None,
        scrap_fraction=None,
        cost_cents=None,
        pieces=0,
        joints=0,
        brackets={},
        anchors=0,
        tape_mm=0,
        problem="",
    )
    if here is None:
        return replace(nothing, problem="shifted so, some gap would be less than 1 mm")
    if found is None:
        return replace(nothing, problem=_nothing_fits(here, gap_mm, shifted, empty))
    edge_mm = sum(run.length_mm for run in here.runs)
    return replace(
        nothing,
        boards=found.board_count,
        lower_bound=found.lower_bound,
        boards_by_code=found.boards,
        boards_per_100_m=round(found.board_count * 100_000 / edge_mm, 3),
        scrap_fraction=round(found.scrap_fraction, 6),
        cost_cents=cost_cents(here, needed_of(here, found), flat_fractions(here)),
        pieces=found.pieces,
        joints=found.joints,
        brackets=found.brackets,
        anchors=found.anchors,
        tape_mm=found.tape_mm,
        problem="; ".join(_what_is_missing(here, found, gap_mm, shifted)),
    )


def _nothing_fits(project: Project, gap_mm: int, shifted: bool, empty: bool) -> str:
    """Why no piece at all can be placed."""
    detail = project.detail
    if not shifted and not detail.gap_min_mm <= gap_mm <= detail.gap_max_mm:
        return f"outside the tested range of {detail.gap_min_mm} to {detail.gap_max_mm} mm"
    if empty:
        return f"no whole cut width between {detail.oversize_min:%} and {detail.oversize_max:%} oversize"
    return _without_place(lay_out(project).not_planned[0].reason)


def _without_place(reason: str) -> str:
    return reason.partition(" mm: ")[2] or reason


def _what_is_missing(project: Project, found: Quantities, gap_mm: int, shifted: bool) -> Iterator[str]:
    if found.not_planned:
        length = sum(place.to_mm - place.from_mm for place in found.not_planned)
        yield f"{length} mm cannot be filled: {_without_place(found.not_planned[0].reason)}"
    if found.no_size:
        detail = project.detail
        shortest = ceil(Fraction(detail.bracket_insertion_min) * gap_mm)
        longest = floor(Fraction(detail.bracket_insertion_max) * gap_mm)
        reach = f": it must reach {shortest} to {longest} mm" if not shifted else ""
        yield f"no bracket on offer fits {found.no_size} of {found.pieces} pieces{reach}"
    if found.no_stand:
        yield f"no bracket can stand clear of the mullions on {found.no_stand} of {found.pieces} pieces"


def _notes(project: Project, compared: Project, shifted: bool) -> Iterator[str]:
    if shifted:
        yield "Each run keeps the shape of its own gaps; their mean along the run is moved to the option's gap."
    else:
        yield "Every run's gap is set to the option's all along; a survey will differ: see the allowance."
    if len(compared.runs) < len(project.runs):
        yield f"Only {len(compared.runs)} of {len(project.runs)} runs are compared."
    if compared.stock:
        yield "Boards and offcuts on site are used as a plan would use them; boards are those bought beside them."
    if any(isinstance(row.fraction, str) for row in project.allowance):
        yield "The simulated allowance is not part of the cost here."
    if project.detail.placeholders:
        yield (
            f"Placeholders, not values of a tested detail: {', '.join(project.detail.placeholders)}. The tested"
            " detail, local code and a licensed practitioner decide which gap may be built."
        )

"""Which gap? Every nominal gap in a range, and boards, oversize limits and brackets side by side.

Boards against the gap are a saw-tooth: at 150 mm a strip is 165 mm wide and six come out of a 1000 mm board, at
151 mm it is 167 mm and five do. A row an option; the figures are those that a plan of the surveyed building would
have at that gap. The tested detail, local code and a licensed practitioner decide which gap may be built.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from fnmatch import fnmatchcase
from itertools import islice
from itertools import product as every_combination
from typing import Any

from pydantic import ValidationError

from optimiser.boards.families import unequal_families
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Staging
from optimiser.model.project import Detail, Project
from optimiser.studies.gap_figures import option_at
from optimiser.studies.gap_option import Choice, Comparison, GapOption, with_best, with_steps
from optimiser.survey.compression import WidthRates

MOST_OPTIONS = 20_000


def compare(
    project: Project,
    gaps: Iterable[int],
    *,
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
    """Gap-size options side by side: what the building takes at each gap, with every combination of the choices.

    Parameters
    ----------
    project
        The building. Its own gaps are set aside unless `shifted`.
    gaps
        The gaps to compare, in mm, such as `range(140, 156)`; taken once each, in order.
    boards, oversize, insertion, brackets
        Lists of choices beside the gap (see `Choice`); none: as the project has it. A choice of `boards` or
        `brackets` is the codes on offer, of `oversize` (least, greatest) and of `insertion` (least, target, greatest)
        are rates.
    runs
        Names or patterns such as '*-N': only these runs are compared; none: all.
    shifted
        Move each run's own gaps so that their mean along the run is the option's gap, instead of one gap all along.
    staging
        Where an offcut may serve, as in `plan`.
    time_limit
        Of one option's solver, in seconds; None: until it is done.
    seed
        Equal projects and seeds give equal options, unless a time limit cut one short.
    progress
        Is told the options done and the options in all.

    Returns
    -------
    Comparison
        An option for each choice and gap, by choice and then by gap; `to_frame()` has a row an option.

    Raises
    ------
    CannotBeDone
        For options that make no sense, with every reason.
    """
    compared = only_runs(project, runs)
    no_limits: list[tuple[Decimal, Decimal] | None] = [None]
    no_band: list[tuple[Decimal, Decimal, Decimal] | None] = [None]
    choices = [
        Choice(boards=tuple(codes), oversize=limits, insertion=band, brackets=tuple(sizes))
        for codes, limits, band, sizes in every_combination(
            boards or [()], [*oversize] or no_limits, [*insertion] or no_band, brackets or [()]
        )
    ]
    compared_gaps = _checked(gaps, len(choices))
    chosen = [_with_choice(compared, choice) for choice in choices]
    options: list[GapOption] = []
    for choice, as_chosen in zip(choices, chosen, strict=True):
        found: list[GapOption] = []
        for gap_mm in compared_gaps:
            found.append(option_at(as_chosen, choice, gap_mm, shifted, staging, time_limit, seed))
            if progress is not None:
                progress(len(options) + len(found), len(compared_gaps) * len(choices))
        options += with_steps(found)
    return Comparison(
        options=tuple(with_best(options, several=len(choices) > 1)),
        edge_mm=sum(run.length_mm for run in compared.runs),
        runs=len(compared.runs),
        currency=project.project.currency,
        shifted=shifted,
        notes=tuple(_notes(project, compared, shifted)),
    )


def gaps_between(from_mm: int, to_mm: int, step_mm: int = 1) -> range:
    """The gaps from `from_mm` to `to_mm`, both among them, by `step_mm`.

    Raises CannotBeDone, with every reason, where they make no range of gaps.
    """
    wrong = _no_gap(from_mm)
    if to_mm < from_mm:
        wrong.append(
            f"the gaps go from {from_mm} to {to_mm} mm: the second must not be the smaller; swap them"
        )
    if step_mm < 1:
        wrong.append(f"the step is {step_mm} mm: give 1 mm or more")
    if wrong:
        raise CannotBeDone(wrong)
    return range(from_mm, to_mm + 1, step_mm)


def _no_gap(least_mm: int) -> list[str]:
    return [] if least_mm >= 1 else [f"the first gap is {least_mm} mm: give 1 mm or more, such as --from 120"]


def _checked(gaps: Iterable[int], choices: int) -> Sequence[int]:
    """The gaps in order, each once. Raises CannotBeDone where there are none, too many, or one below 1 mm."""
    few = gaps if isinstance(gaps, Sequence) else tuple(islice(gaps, MOST_OPTIONS + 1))
    if (count := len(few) * choices) > MOST_OPTIONS:
        raise CannotBeDone(
            [f"these are {count} options, more than {MOST_OPTIONS}: take a larger step or a smaller range"]
        )
    ordered = sorted(set(few))
    if not ordered:
        raise CannotBeDone(["there is no gap to compare: give at least one, such as range(140, 156)"])
    if wrong := _no_gap(ordered[0]):
        raise CannotBeDone(wrong)
    return ordered


def only_runs(project: Project, patterns: Sequence[str]) -> Project:
    """The project with only the runs that one of the patterns names; all without patterns.

    Raises CannotBeDone for a pattern that names none."""
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
    board_codes = list(project.building.boards)
    bracket_codes = [bracket.code for bracket in project.brackets]
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
    try:
        update["detail"] = _detail_with(project.detail, choice)
        update["details"] = {name: _detail_with(own, choice) for name, own in project.details.items()}
    except ValidationError as error:
        wrong += [f"{choice.words}: {fault['msg'].removeprefix('Value error, ')}" for fault in error.errors()]
    except ValueError as error:
        wrong.append(str(error))
    if wrong:
        raise CannotBeDone(wrong)
    chosen = project.model_copy(update=update)
    if unequal := unequal_families(chosen):
        raise CannotBeDone(unequal)
    return chosen


def _detail_with(detail: Detail, choice: Choice) -> Detail:
    """A detail under a choice. Raises ValueError when it makes no sense."""
    rules: dict[str, Any] = {}
    if choice.oversize:
        rules.update(zip(("oversize_min", "oversize_max"), choice.oversize, strict=True))
    if choice.insertion:
        names = ("bracket_insertion_min", "bracket_insertion", "bracket_insertion_max")
        rules.update(zip(names, choice.insertion, strict=True))
    return with_rules(detail, rules)


def with_rules(detail: Detail, rules: Mapping[str, Any]) -> Detail:
    """A detail with other rules, by name; those that it was not given stay placeholders. Raises ValueError where they
    make no sense together."""
    found = Detail(**{**{name: getattr(detail, name) for name in detail.model_fields_set}, **rules})
    WidthRates.of(found)
    return found


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
    placeholders = dict.fromkeys(rule for rules in project.building.placeholders.values() for rule in rules)
    if placeholders:
        yield (
            f"Placeholders, not values of a tested detail: {', '.join(placeholders)}. The tested"
            " detail, local code and a licensed practitioner decide which gap may be built."
        )

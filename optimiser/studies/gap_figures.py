"""A building at one gap: its figures as an option of the comparison, or why nothing fits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor

from optimiser.boards.paid_packs import flat_fractions
from optimiser.joints.layout import lay_out
from optimiser.model.plan import Staging
from optimiser.model.project import Gap, Project
from optimiser.studies.gap_option import Choice, GapOption
from optimiser.survey.compression import WidthRates
from optimiser.takeoff.quantities import Quantities, cost_of, needed_of, quantities_of


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
    own = project.building.gaps
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


def option_at(
    project: Project,
    choice: Choice,
    gap_mm: int,
    shifted: bool,
    staging: Staging,
    time_limit: float | None,
    seed: int,
) -> GapOption:
    """The option of a gap: what a plan of the building under a choice takes there, or the problem that it has."""
    here = at_gap(project, gap_mm, shifted)
    details = tuple(project.building.details_in_use.values())
    windows = {(rates.width_min(gap_mm), rates.width_max(gap_mm)) for rates in map(WidthRates.of, details)}
    width = min(windows)[0] if not shifted and len({least for least, _ in windows}) == 1 else None
    # no need to look along every run for a place
    empty = not shifted and all(least > most for least, most in windows)
    found = None if here is None or empty else quantities_of(here, staging, time_limit, seed)
    board = project.building.boards[project.runs[0].board[0]]
    kerf = project.building.cutting_rules_of(board.code).kerf_mm
    strips = None if width is None else (board.width_mm + kerf) // (width + kerf)
    nothing = GapOption(gap_mm=gap_mm, choice=choice, cut_width_mm=width, strips_per_board=strips)
    if here is None:
        return nothing.model_copy(update={"problem": "shifted so, some gap would be less than 1 mm"})
    if found is None:
        return nothing.model_copy(update={"problem": _nothing_fits(here, gap_mm, shifted, empty)})
    edge_mm = sum(run.length_mm for run in here.runs)
    return GapOption(
        gap_mm=gap_mm,
        choice=choice,
        cut_width_mm=width,
        strips_per_board=strips,
        boards=found.board_count,
        lower_bound=found.lower_bound,
        boards_by_code=found.boards,
        boards_per_100_m=round(found.board_count * 100_000 / edge_mm, 3),
        scrap_fraction=round(found.scrap_fraction, 6),
        cost=cost_of(here, needed_of(here, found), flat_fractions(here)),
        pieces=found.pieces,
        joints=found.joints,
        brackets=found.brackets,
        anchors=found.anchors,
        tape_mm=found.tape_mm,
        problem="; ".join(_what_is_missing(here, found, gap_mm, shifted)),
    )


def _nothing_fits(project: Project, gap_mm: int, shifted: bool, empty: bool) -> str:
    """Why no piece at all can be placed."""
    details = tuple(project.building.details_in_use.values())
    detail = details[0]
    if not shifted and not any(one.gap_min_mm <= gap_mm <= one.gap_max_mm for one in details):
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
        detail = next(iter(project.building.details_in_use.values()))
        shortest = ceil(Fraction(detail.bracket_insertion_min) * gap_mm)
        longest = floor(Fraction(detail.bracket_insertion_max) * gap_mm)
        alone = not shifted and len(project.building.details_in_use) == 1
        reach = f": it must reach {shortest} to {longest} mm" if alone else ""
        yield f"no bracket on offer fits {found.no_size} of {found.pieces} pieces{reach}"
    if found.no_stand:
        yield f"no bracket can stand clear of the mullions on {found.no_stand} of {found.pieces} pieces"

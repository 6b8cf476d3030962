"""Curved edges whose pieces, as long as the curve lets them be, leave much of every strip over."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from optimiser.errors.listed import listed
from optimiser.model.project import Project, Run
from optimiser.survey.curves import longest_on_curve_mm

_WORTH_TELLING = 1.15
"""Strips for the longest pieces, to those for shorter ones of which one more fits a strip."""
_MANY = 4  # runs spelt out in one sentence before 'and n more'


class _Shorter(NamedTuple):
    """Pieces on a curve as long as it allows, and shorter ones of which one more comes from a strip."""

    radius_mm: int
    offset_mm: int
    longest_mm: int
    strip_mm: int
    of_a_strip: int
    shorter_offset_mm: int
    shorter_mm: int


def curved_strips(project: Project) -> Iterator[str]:
    """A hint for each curve whose joints, laid as few as can be, take many more strips than shorter pieces would.

    Joints are as few as lengths, mullions and gaps allow, so pieces on a curve are as long as it lets them be. The
    strips are estimated: what shorter pieces save in boards and cost in joints and brackets, a plan of them tells.
    """
    runs: defaultdict[_Shorter, list[Run]] = defaultdict(list)
    for run in project.runs:
        found = _shorter_pieces(project, run)
        if found is not None:
            runs[found].append(run)
    for found, alike in runs.items():
        longest = [-(-run.length_mm // found.longest_mm) for run in alike]
        shorter = [-(-run.length_mm // found.shorter_mm) for run in alike]
        if sum(longest) / found.of_a_strip > _WORTH_TELLING * sum(shorter) / (found.of_a_strip + 1):
            over = found.strip_mm - found.of_a_strip * found.longest_mm
            names = listed([run.run for run in alike], _MANY)
            yield (
                f"Much is left over of the strips for curves of radius {found.radius_mm} mm ({names}): pieces of"
                f" at most {found.longest_mm} mm (curve_offset_max_mm {found.offset_mm}) leave up to {over} mm of a"
                f" strip of {found.strip_mm} mm. With curve_offset_max_mm {found.shorter_offset_mm} they are at most"
                f" {found.shorter_mm} mm long and {found.of_a_strip + 1} come from a strip, with some"
                f" {sum(shorter) - sum(longest):,} joints more: plan it so too and compare the cost."
            )


def _shorter_pieces(project: Project, run: Run) -> _Shorter | None:
    """The longest pieces on a run's curve, and those of which one more fits a strip; None where no detail, or a rule
    of whole millimetres, lets pieces be so short."""
    if run.radius_mm is None:
        return None
    detail = project.building.detail_of(run.run)
    strip = max(project.building.boards[code].length_mm for code in run.board)
    radius, offset = run.radius_mm, detail.curve_offset_max_mm
    longest = longest_on_curve_mm(radius, offset)
    if longest is None or not detail.piece_length_min_mm <= longest <= strip:
        return None
    of_a_strip = strip // longest
    fits = (strip - of_a_strip * detail.kerf_mm) // (of_a_strip + 1)
    shorter_offset = bisect_right(range(1, offset), fits, key=lambda one: _longest(radius, one))
    shorter = _longest(radius, shorter_offset) if shorter_offset else 0
    if shorter < detail.piece_length_min_mm:
        return None
    return _Shorter(radius, offset, longest, strip, of_a_strip, shorter_offset, shorter)


def _longest(radius_mm: int, offset_mm: int) -> int:
    """The longest piece on a curve that bends within it."""
    longest = longest_on_curve_mm(radius_mm, offset_mm)
    return 2 * radius_mm if longest is None else longest

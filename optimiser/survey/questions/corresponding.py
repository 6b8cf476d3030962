"""Which runs lie above and below each other: by their name without the level's (L01-N and L02-N), else by order and
length.

The levels stand in delivery order, which is the order of the storeys in most buildings (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optimiser.model.building import Building
from optimiser.model.tables import Run

_ALIKE = 4
"""By order alone, the shorter of two runs that correspond has at least 3/4 of the longer one's length."""


@dataclass(frozen=True)
class RunsAboveAndBelow:
    """For each run the nearest two that lie above and below it (of the lowest and the highest level the next two on
    the one side), the nearest first; and all runs that lie in one column with it, itself included."""

    nearest: Mapping[str, tuple[str, ...]]
    column: Mapping[str, tuple[str, ...]]


def runs_above_and_below(building: Building) -> RunsAboveAndBelow:
    """The runs of a building that correspond from level to level."""
    of_level: dict[str, list[Run]] = {level: [] for level in building.levels}
    for run in building.runs.values():
        of_level[run.level].append(run)
    storeys = [_Storey(level, runs) for level, runs in of_level.items()]
    nearest: dict[str, tuple[str, ...]] = {}
    column: dict[str, tuple[str, ...]] = {}
    for place, storey in enumerate(storeys):
        for run in storey.runs:
            below = [name for other in reversed(storeys[:place]) if (name := storey.like(run, other))]
            above = [name for other in storeys[place + 1 :] if (name := storey.like(run, other))]
            nearest[run.run] = tuple(
                [*below[:1], *above[:1]] if below and above else [*below[:2], *above[:2]]
            )
            column[run.run] = (*reversed(below), run.run, *above)
    return RunsAboveAndBelow(nearest, column)


class _Storey:
    """A level's runs, by their name without the level's and by their order."""

    def __init__(self, level: str, runs: Sequence[Run]) -> None:
        self.runs = runs
        names = [name_within_level(run.run, level) for run in runs]
        self.named = bool(runs) and all(names) and len(set(names)) == len(names)
        self.by_name = dict(zip(names, runs, strict=True)) if self.named else {}
        self.name_of = {run.run: name for name, run in self.by_name.items()}
        self.place_of = {run.run: place for place, run in enumerate(runs)}

    def like(self, run: Run, other: _Storey) -> str | None:
        """The name of the run that corresponds on another level, or None."""
        if self.named and other.named:
            found = other.by_name.get(self.name_of[run.run])
            return found.run if found else None
        if len(self.runs) != len(other.runs):
            return None
        found = other.runs[self.place_of[run.run]]
        short, long = sorted((run.length_mm, found.length_mm))
        return found.run if short * _ALIKE >= long * (_ALIKE - 1) else None


def name_within_level(run: str, level: str) -> str:
    """A run's name without its level's: 'L01-N', 'L01' -> 'N'; '' where the level's name is no part of it."""
    parts = [part for part in re.split(r"[\s\-_./]+", run) if part]
    level_parts = [part for part in re.split(r"[\s\-_./]+", level) if part]
    width = len(level_parts)
    for start in range(len(parts) - width + 1):
        if width and parts[start : start + width] == level_parts:
            return "-".join(parts[:start] + parts[start + width :])
    return run[len(level) :].strip(" -_./") if level and run.startswith(level) else ""

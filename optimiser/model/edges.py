"""Slab edges: runs end to end, in closed loops or with open ends, and the junctions where two of them meet.

A run `joins` the run that begins where it ends, at a corner or straight on; their meeting is a butt joint like any
other, taped, and counted on the level of the run that joins.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

STRAIGHT_RUNS_OF_A_LOOP = 3
"""The fewest straight runs that enclose anything."""


class JoiningRun(Protocol):
    """What is asked of a run."""

    @property
    def run(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def joins(self) -> str: ...
    @property
    def radius_mm(self) -> int | None: ...


@dataclass(frozen=True, slots=True)
class Junction:
    """The place where `run` ends and the run that it `joins` begins."""

    run: str
    joins: str
    level: str


@dataclass(frozen=True, slots=True)
class Edge:
    """Runs in the order in which one begins where the one before ends; `closed`: the last joins the first."""

    level: str
    runs: tuple[str, ...]
    closed: bool


@dataclass(frozen=True, slots=True)
class JoinFault:
    """A junction that cannot be: the run whose `joins` is wrong, why, and what mends it."""

    run: str
    message: str
    mend: str


def junctions_of(runs: Iterable[JoiningRun]) -> tuple[Junction, ...]:
    """The junctions of runs, in their order; one that names a run that is not among them is an open end."""
    listed = tuple(runs)
    names = {run.run for run in listed}
    return tuple(Junction(run.run, run.joins, run.level) for run in listed if run.joins in names)


def edges_of(runs: Iterable[JoiningRun]) -> tuple[Edge, ...]:
    """The edges that runs make up: each run is in one. Open edges begin where nothing joins, loops at the run that is
    listed first. The runs must be without `faults_of_joins`."""
    listed = tuple(runs)
    by_name = {run.run: run for run in listed}
    joined = {run.joins for run in listed}
    found: list[Edge] = []
    seen: set[str] = set()
    for open_end in (True, False):
        for run in listed:
            if run.run in seen or (open_end and run.run in joined):
                continue
            names = []
            at: JoiningRun | None = run
            while at is not None and at.run not in seen:
                seen.add(at.run)
                names.append(at.run)
                at = by_name.get(at.joins)
            found.append(Edge(run.level, tuple(names), not open_end))
    place = {run.run: number for number, run in enumerate(listed)}
    return tuple(sorted(found, key=lambda edge: place[edge.runs[0]]))


def faults_of_joins(runs: Sequence[JoiningRun]) -> Iterator[JoinFault]:
    """Every junction that cannot be: an unknown run, runs of two levels, a run that two join, a straight run that joins
    itself, and a circle of straight runs too few to enclose anything."""
    by_name = {run.run: run for run in runs}
    joined_by: dict[str, list[str]] = defaultdict(list)
    sound = True
    for run in runs:
        if not run.joins:
            continue
        other = by_name.get(run.joins)
        if other is None:
            sound = False
            yield JoinFault(
                run.run, f"there is no run {run.joins}", "write the run that begins where it ends"
            )
            continue
        joined_by[run.joins].append(run.run)
        if other.level != run.level:
            yield JoinFault(
                run.run,
                f"{run.joins} is on level {other.level}, not on {run.level}: runs of two levels do not meet",
                f"write a run of level {run.level} that begins where it ends, or leave it blank: an open end",
            )
        elif run.joins == run.run and run.radius_mm is None:
            yield JoinFault(
                run.run,
                "a straight run does not begin where it ends",
                "write the run that begins where it ends, or radius_mm if the edge is a closed curve",
            )
    for name, joining in joined_by.items():
        for later in joining[1:]:
            sound = False
            yield JoinFault(
                later,
                f"{name} is joined by {joining[0]} already: two runs cannot both end where it begins",
                "keep the one that ends there",
            )
    if not sound:
        return
    for edge in edges_of(runs):
        straight = all(by_name[name].radius_mm is None for name in edge.runs)
        if edge.closed and straight and 1 < len(edge.runs) < STRAIGHT_RUNS_OF_A_LOOP:
            yield JoinFault(
                edge.runs[-1],
                f"{' and '.join(edge.runs)} join each other, but two straight runs enclose nothing: it is no loop",
                "write what the last of them joins, or leave it blank: an open end",
            )

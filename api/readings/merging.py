"""Readings put into a survey: runs in a limited process."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from api.projects.reading import ReadProject, Unusable, kept_project, summarised, unusable
from api.readings.schemas import Reading, SentReadings


@dataclass(frozen=True)
class MergedSurvey:
    """The survey with the readings in it; `measured` are the levels of the readings that have no nominal gap left."""

    project: ReadProject
    measured: tuple[str, ...]


def with_readings(survey: str, sent: str) -> MergedSurvey:
    """A survey (JSON text) with what was accessible of sent readings (JSON text) in place of its gaps there.

    Raises Unusable with every reading that has no place in the survey.
    """
    from optimiser.boards.forecast_levels import forecast_levels
    from optimiser.errors.problems import UnusableInput
    from optimiser.reading import project_from_json

    before = kept_project(survey)
    readings = SentReadings.model_validate_json(sent)
    runs = before.building.runs
    lengths = {name: run.length_mm for name, run in runs.items()}
    faults = [
        fault
        for place, reading in enumerate(readings.readings)
        for fault in _faults(f"readings[{place}]", reading, lengths)
    ]
    if not faults:
        faults = list(_read_twice(readings.readings))
    if faults:
        raise Unusable(faults)
    new = {
        (reading.run, reading.at_mm): _gap(reading, readings.at.date().isoformat())
        for reading in readings.readings
        if reading.accessible
    }
    document = json.loads(survey)
    gaps = [gap for gap in document["gaps"] if (gap["run"], gap["at_mm"]) not in new]
    place = {run: number for number, run in enumerate(runs)}
    document["gaps"] = sorted((*gaps, *new.values()), key=lambda gap: (place[gap["run"]], gap["at_mm"]))
    try:
        after = project_from_json(document)
    except UnusableInput as error:
        raise unusable(error) from None
    levels = {runs[run].level for run, _ in new} - forecast_levels(after)
    return MergedSurvey(
        summarised(after), tuple(level.level for level in after.levels_in_order() if level.level in levels)
    )


def _read_twice(readings: Sequence[Reading]) -> Iterator[dict[str, Any]]:
    """A fault for each reading of a position that an earlier one has read."""
    first: dict[tuple[str, int], int] = {}
    for place, reading in enumerate(readings):
        before = first.setdefault((reading.run, reading.at_mm), place)
        if before != place:
            message = f"{reading.run} at {reading.at_mm} mm is read by readings[{before}] too"
            yield _fault(f"readings[{place}].at_mm", message, "send its last reading only", reading.at_mm)


def _gap(reading: Reading, day: str) -> dict[str, Any]:
    read = {"gap_top_mm": reading.gap_top_mm, "gap_bottom_mm": reading.gap_bottom_mm}
    known = {name: value for name, value in read.items() if value is not None}
    widest = max(known.values())
    return {
        "run": reading.run,
        "at_mm": reading.at_mm,
        "gap_mm": widest,
        "basis": "measured",
        "taken_on": day,
    } | known


def _faults(place: str, reading: Reading, lengths: dict[str, int]) -> Iterator[dict[str, Any]]:
    if reading.run not in lengths:
        yield _fault(f"{place}.run", "the survey has no such run", "write a run of the survey", reading.run)
    elif reading.at_mm > lengths[reading.run]:
        message = f"lies beyond the end of {reading.run}, which is {lengths[reading.run]} mm long"
        yield _fault(f"{place}.at_mm", message, "measure from the run's start", reading.at_mm)


def _fault(place: str, message: str, mend: str, value: str | int) -> dict[str, Any]:
    return {"place": place, "message": message, "mend": mend, "value": value}

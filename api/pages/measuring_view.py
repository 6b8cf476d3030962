"""A level's runs to measure: every position of the newest survey, what stands there, and what was last said of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from api.photographs.schemas import Photograph
from api.readings.schemas import KeptReadings
from optimiser.model.project import Gap, Project


@dataclass(frozen=True)
class PlaceToMeasure:
    """A position of a run. `said` are the words of who could not get at it last; '' where that is not so."""

    at_mm: int
    gap: Gap
    said: str
    photographs: int

    @property
    def words(self) -> str:
        """What stands in the survey: '151', '151 (top 151, bottom 148)', 'nominal 150'."""
        gap = self.gap
        read = [
            f"{where} {value}"
            for where, value in (("top", gap.gap_top_mm), ("bottom", gap.gap_bottom_mm))
            if value is not None
        ]
        day = f", {gap.taken_on.day} {gap.taken_on:%b}" if gap.taken_on else ""
        nominal = "nominal " if gap.basis == "nominal" else ""
        return f"{nominal}{gap.gap_mm}" + (f" ({', '.join(read)}{day})" if read else "")


@dataclass(frozen=True)
class RunToMeasure:
    """A run with its positions from its start."""

    run: str
    length_mm: int
    places: tuple[PlaceToMeasure, ...]

    @property
    def nominal(self) -> int:
        """How many of its positions are not measured yet."""
        return sum(place.gap.basis == "nominal" for place in self.places)


def runs_to_measure(
    survey: Project, level: str, sent: Iterable[KeptReadings], photographs: Iterable[Photograph]
) -> tuple[RunToMeasure, ...]:
    """The runs of a level of the newest survey. Raises IndexError when the survey has no such level."""
    if level not in survey.building.levels:
        raise IndexError(f"The newest survey has no level {level}.")
    last: dict[tuple[str, int], str] = {}
    for sending in sent:
        for reading in sending.readings:
            words = ""
            if not reading.accessible:
                words = f"not accessible, {sending.at.day} {sending.at:%b}, {sending.by or 'not said who'}"
                words += f": {reading.note}" if reading.note else ""
            last[reading.run, reading.at_mm] = words
    shots = [(one.run, one.at_mm) for one in photographs if one.what == "gap"]
    gaps = survey.gaps_of()
    return tuple(
        RunToMeasure(
            run.run,
            run.length_mm,
            tuple(
                PlaceToMeasure(
                    gap.at_mm, gap, last.get((run.run, gap.at_mm), ""), shots.count((run.run, gap.at_mm))
                )
                for gap in gaps[run.run]
            ),
        )
        for run in survey.runs
        if run.level == level
    )

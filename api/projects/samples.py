"""The invented buildings that come with the source, to try the service with; an installed package has none."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import api
from api.http.problem_details import Problem
from api.projects.reading import Upload

FOLDER = Path(api.__file__).parents[1] / "sample_orders"

_WORDS = {
    "small": ("the small building", "Two levels, the upper one not measured yet."),
    "tower": ("the tower", "Fourteen levels, a delivery a week, all measured."),
    "l_shaped": ("the L-shaped building", "Nine levels around a curved corner, two details."),
    "faulty": ("the faulty survey", "The small building with a slip of every kind."),
}


@dataclass(frozen=True)
class Sample:
    """An invented building: its name in addresses, what it is called, and what is special about it."""

    name: str
    title: str
    words: str


def samples() -> tuple[Sample, ...]:
    """Those that are there."""
    return tuple(Sample(name, *words) for name, words in _WORDS.items() if _workbook(name).is_file())


def sample_upload(name: str) -> Upload:
    """A sample as if its workbook had been uploaded. Raises Problem 404."""
    if name not in {sample.name for sample in samples()}:
        raise Problem(404, "not-found", "There is no such sample here.")
    path = _workbook(name)
    return Upload("files", {path.name: path.read_bytes()})


def _workbook(name: str) -> Path:
    return FOLDER / name / f"{name}.xlsx"

"""Files into models: workbook, folder of csv or JSON into a `Project`; JSON into a cutting problem or a plan.

The functions here import what they need when they are called, so that the command line starts at once.

- `read_project`, `project_from_workbook`, `project_from_json`: a project
- `read_cutting_problem`, `cutting_problem_from_json`: a cutting problem
- `read_plan`: a plan or a cutting result
- `UnusableInput` (with every `Problem`) and `CannotBeDone` are what they raise
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from optimiser.reading.problems import CannotBeDone, Problem, UnusableInput

if TYPE_CHECKING:
    from optimiser.cutting.problem import CuttingProblem, CuttingResult
    from optimiser.plan import Plan
    from optimiser.project import Project

__all__ = [
    "CannotBeDone",
    "Problem",
    "UnusableInput",
    "cutting_problem_from_json",
    "project_from_json",
    "project_from_workbook",
    "read_cutting_problem",
    "read_plan",
    "read_project",
]


def read_project(path: Path) -> Project:
    """The project in a workbook (.xlsx), a folder of .csv with the sheets' names, or a .json file.

    Raises UnusableInput with every problem found, each with sheet, row, column, value and mend.
    """
    from optimiser.reading import project_file

    return project_file.read_project(path)


def project_from_json(value: object) -> Project:
    """The project in a parsed JSON value. Raises UnusableInput with every problem and its JSON path."""
    from optimiser.reading import project_file

    return project_file.project_from_json(value)


def project_from_workbook(data: bytes, name: str = "the workbook") -> Project:
    """The project in a workbook's bytes; `name` is the file's, for messages. Raises UnusableInput."""
    from optimiser.reading import project_file

    return project_file.project_from_workbook(data, name)


def read_cutting_problem(path: Path) -> CuttingProblem:
    """The cutting problem in a JSON file.

    Raises UnusableInput with every problem found, CannotBeDone when pieces are larger than every board.
    """
    from optimiser.reading import cutting_file

    return cutting_file.read_cutting_problem(path)


def cutting_problem_from_json(value: object) -> CuttingProblem:
    """The cutting problem in a parsed JSON value. Raises UnusableInput and CannotBeDone."""
    from optimiser.reading import cutting_file

    return cutting_file.cutting_problem_from_json(value)


def read_plan(path: Path) -> Plan | CuttingResult:
    """The plan (plan.json) or cutting result in a JSON file. Raises UnusableInput with JSON paths."""
    from optimiser.reading import cutting_file

    return cutting_file.read_plan(path)

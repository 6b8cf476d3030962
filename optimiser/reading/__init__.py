"""Files into models: workbook, folder of csv or JSON into a `Project`; JSON into a cutting problem or a plan.

The functions here import what they need when they are called, so that the command line starts at once.

- `read` (for the library), `read_project`, `project_from_workbook`, `project_from_sheets`, `project_from_json`: a
  project
- `read_cutting_problem`, `cutting_problem_from_json`: a cutting problem
- `read_plan`: a plan or a cutting result
- `read_purchase_order`, `read_answer`: an order that was sent, and what the supplier answered
- `read_offers`: what suppliers offer
- `read_record`, `events_from_json`: what happened on a job
- `UnusableInput` (with every `Problem`) and `CannotBeDone` are what they raise
"""

from __future__ import annotations

from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimiser.errors.problems import CannotBeDone, Problem, UnusableInput

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence
    from datetime import date

    from optimiser.cutting.problem import CuttingProblem, CuttingResult
    from optimiser.model.answer import Answer
    from optimiser.model.offer import Offer
    from optimiser.model.plan import Plan
    from optimiser.model.project import Project
    from optimiser.model.purchase_order import PurchaseOrder
    from optimiser.model.record import Event, Record

__all__ = [
    "CannotBeDone",
    "Problem",
    "UnusableInput",
    "cutting_problem_from_json",
    "events_from_json",
    "project_from_json",
    "project_from_sheets",
    "project_from_workbook",
    "read",
    "read_answer",
    "read_cutting_problem",
    "read_offers",
    "read_plan",
    "read_project",
    "read_purchase_order",
    "read_record",
]


def read(path: str | PathLike[str]) -> Project:
    """The project in a file or folder.

    Parameters
    ----------
    path
        A workbook (.xlsx), a folder of .csv files with the sheets' names, or a .json file; '-' reads JSON or a workbook
        from stdin.

    Returns
    -------
    Project
        All lengths in whole millimetres; money and rates exact.

    Raises
    ------
    UnusableInput
        Once, with every fault found: `problems` has the sheet, row, column, value and fix of each.
    """
    return read_project(Path(path))


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


def project_from_sheets(sheets: Mapping[str, Sequence[Sequence[Any]]]) -> Project:
    """The project in sheets of cells by their tables' names, headings first. Raises UnusableInput."""
    from optimiser.reading import project_file

    return project_file.project_from_sheets(sheets)


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


def read_plan(path: str | PathLike[str]) -> Plan | CuttingResult:
    """The plan (plan.json) or cutting result in a JSON file. Raises UnusableInput with JSON paths."""
    from optimiser.reading import cutting_file

    return cutting_file.read_plan(Path(path))


def read_purchase_order(path: str | PathLike[str]) -> PurchaseOrder:
    """The order that was sent, from its purchase-order.json. Raises UnusableInput with JSON paths."""
    from optimiser.reading import purchase_order_file

    return purchase_order_file.read_purchase_order(Path(path))


def read_answer(
    path: str | PathLike[str],
    order: PurchaseOrder,
    record: Record | None = None,
    received_on: date | None = None,
) -> Answer:
    """What a supplier answered to an order, in a UBL OrderResponse or DespatchAdvice, as events of the record. Raises
    UnusableInput with every fault and its place."""
    from optimiser.reading import supplier_answer

    return supplier_answer.read_answer(Path(path), order, record, received_on)


def read_offers(path: str | PathLike[str]) -> tuple[Offer, ...]:
    """What suppliers offer, in a UBL Quotation or Catalogue or a csv file. Raises UnusableInput with every fault."""
    from optimiser.reading import offers

    return offers.read_offers(Path(path))


def read_record(path: str | PathLike[str], plan: Plan | None = None) -> Record:
    """The record of a job in a file: .csv, or JSON lines, or a JSON list. With a `plan`, what new events name must be
    its own. Raises UnusableInput with every fault."""
    from optimiser.reading import record_file

    return record_file.read_record(Path(path), plan)


def events_from_json(
    value: object, *, known: Collection[str] = (), survey: Project | None = None
) -> tuple[Event, ...]:
    """The events of a parsed JSON list, each with an id of its own; `known` are the ids of those on record already.
    With a `survey`, levels and codes must be its own. Raises UnusableInput with every fault and its JSON path."""
    from optimiser.reading import record_file

    return record_file.events_from_json(value, known=known, survey=survey)

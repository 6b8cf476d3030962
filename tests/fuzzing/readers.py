"""What is fuzzed: each reader with its seeds, and what must hold for whatever bytes it is given.

A reader may refuse an input only with its own errors, every problem of them with a message and a fix on one
printable line. What it accepts must come back equal from the JSON that it is written as, and the judge must be able
to judge it.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from tests.fuzzing import job_readers, mutations, trade_readers
from tests.fuzzing.promises import SAMPLES, NotHeld, refused_well, same_again, small_plan, small_project


@dataclass(frozen=True)
class Reader:
    """One target: its seeds, how they are changed, and what is done with an input."""

    seeds: Callable[[], list[bytes]]
    change: Callable[[bytes, int, mutations.BlindChange], bytes]
    read: Callable[[bytes], bool]  # whether the input was accepted
    most_bytes: int


def read_project_json(data: bytes) -> bool:
    """A project in JSON."""
    from optimiser.reading import project_from_json
    from optimiser.reading.json_text import parse_json

    project = refused_well(lambda: project_from_json(parse_json(data, "project.json")))
    if project is not None:
        same_again(project)
    return project is not None


def read_workbook(data: bytes) -> bool:
    """A project in a workbook."""
    from optimiser.reading import project_from_workbook

    project = refused_well(lambda: project_from_workbook(data, "survey.xlsx"))
    if project is not None:
        same_again(project)
    return project is not None


def read_csv_folder(data: bytes) -> bool:
    """A project in a folder of csv."""
    from optimiser.reading import read_project

    with tempfile.TemporaryDirectory(prefix="fuzzing") as folder:
        for name, content in mutations.bytes_as_folder(data).items():
            try:
                (Path(folder) / name).write_bytes(content)
            except OSError:  # '.', '..', or a name that is too long in UTF-8
                continue
        project = refused_well(lambda: read_project(Path(folder)))
    if project is not None:
        same_again(project)
    return project is not None


def read_cutting_problem(data: bytes) -> bool:
    """A bare cutting problem."""
    from optimiser.reading import cutting_problem_from_json
    from optimiser.reading.json_text import parse_json

    problem = refused_well(lambda: cutting_problem_from_json(parse_json(data, "problem.json")))
    if problem is not None:
        again = cutting_problem_from_json(json.loads(problem.model_dump_json()))
        if again != problem:
            raise NotHeld("a cutting problem read from its own JSON is another")
    return problem is not None


def read_judged(data: bytes) -> bool:
    """A plan or a cutting result, read and judged as `check` does, on its own and against what it was made for."""
    from optimiser.checking import broken_rules_of_plan, broken_rules_of_result
    from optimiser.model.plan import Plan
    from optimiser.reading import read_plan

    with tempfile.NamedTemporaryFile(prefix="fuzzing", suffix=".json") as file:
        file.write(data)
        file.flush()
        found = refused_well(lambda: read_plan(Path(file.name)))
    if found is None:
        return False
    if isinstance(found, Plan):
        rules = broken_rules_of_plan(found) + broken_rules_of_plan(found, small_project())
    else:
        rules = broken_rules_of_result(found) + broken_rules_of_result(found, _problem())
    if not all(isinstance(rule, str) and rule.strip() for rule in rules):
        raise NotHeld("a broken rule without words")
    return True


def read_survey(data: bytes) -> bool:
    """A newer survey in JSON, read and refitted to a plan that is cut."""
    from optimiser.reading import project_from_json
    from optimiser.reading.json_text import parse_json
    from optimiser.replanning.refit import refit

    survey = refused_well(lambda: project_from_json(parse_json(data, "survey.json")))
    if survey is None or sum(run.length_mm for run in survey.runs) > 200_000:
        return False  # a city to lay out is slow, and no fault of the reader
    return refused_well(lambda: refit(small_plan(), survey, time_limit=1.0)) is not None


@cache
def _problem() -> Any:
    from optimiser.reading import cutting_problem_from_json

    return cutting_problem_from_json(PROBLEMS[0])


PROBLEMS: tuple[dict[str, Any], ...] = (
    {
        "board": {"length_mm": 1200, "width_mm": 1000, "kerf_mm": 0},
        "trim": False,
        "pieces": [
            {"id": "L01-N-003", "length_mm": 1200, "width_min_mm": 165, "width_max_mm": 172, "quantity": 2, "stage": 1},
            {"id": "L01-N-004", "length_mm": 900, "width_min_mm": 165, "width_max_mm": 172},
        ],
        "offcuts": [{"id": "F7", "length_mm": 1200, "width_mm": 380, "quantity": 1, "stage": 1}],
        "max_carry_stages": None,
    },
    {
        "boards": [
            {"code": "A", "length_mm": 1200, "width_mm": 1000, "price_cents": 700, "kerf_mm": 3},
            {"code": "B", "length_mm": 2400, "width_mm": 600, "price_cents": 900},
        ],
        "trim": True,
        "max_carry_stages": 1,
        "pieces": [
            {"id": "P1", "length_mm": 400, "width_min_mm": 100, "width_max_mm": 120, "boards": ["A"], "stage": 2},
            {"id": "P2", "length_mm": 800, "width_min_mm": 90, "width_max_mm": 99, "quantity": 3},
        ],
    },
)  # fmt: skip


def _project_seeds() -> list[bytes]:
    """The small sample, and the tower cut down to two levels, as JSON."""
    small = (SAMPLES / "small" / "small.json").read_bytes()
    tower = json.loads((SAMPLES / "tower" / "tower.json").read_bytes())
    tower["levels"] = tower["levels"][:2]
    names = {level["level"] for level in tower["levels"]}
    tower["runs"] = [run for run in tower["runs"] if run["level"] in names][:5]
    runs = {run["run"] for run in tower["runs"]}
    tower["gaps"] = [gap for gap in tower["gaps"] if gap["run"] in runs]
    tower["stock"] = [item for item in tower.get("stock", []) if item.get("level") in names]
    return [small, json.dumps(tower).encode()]


def _workbook_seeds() -> list[bytes]:
    """The small sample, the faulty one and an empty template."""
    from optimiser.writing.office.template import write_template

    with tempfile.TemporaryDirectory(prefix="fuzzing") as folder:
        write_template(Path(folder) / "template.xlsx")
        template = (Path(folder) / "template.xlsx").read_bytes()
    samples = [SAMPLES / "small" / "small.xlsx", SAMPLES / "faulty" / "faulty.xlsx"]
    return [*(file.read_bytes() for file in samples), template]


def _folder_seeds() -> list[bytes]:
    """The small sample, with commas and with semicolons."""
    files = {file.name: file.read_bytes() for file in sorted((SAMPLES / "small" / "csv").glob("*.csv"))}
    comma = mutations.folder_as_bytes(files)
    return [comma, comma.replace(b",", b";")]


def _judged_seeds() -> list[bytes]:
    """The small sample's plan, a plan counted on paper, and the results of the two problems."""
    from optimiser.cutting.solve import solve
    from optimiser.reading import cutting_problem_from_json
    from optimiser.writing.data.plan_json import plan_json, result_json
    from tests.builders.small_plan import small_plan as by_hand

    results = [result_json(solve(cutting_problem_from_json(problem))) for problem in PROBLEMS]
    return [text.encode() for text in (plan_json(by_hand()), plan_json(small_plan()), *results)]


READERS = {
    "workbook": Reader(_workbook_seeds, mutations.changed_workbook, read_workbook, 60_000),
    "csv-folder": Reader(_folder_seeds, mutations.changed_folder, read_csv_folder, 30_000),
    "project": Reader(_project_seeds, mutations.changed_json, read_project_json, 60_000),
    "cutting-problem": Reader(
        lambda: [json.dumps(problem).encode() for problem in PROBLEMS],
        mutations.changed_json,
        read_cutting_problem,
        20_000,
    ),
    "judged": Reader(_judged_seeds, mutations.changed_json, read_judged, 80_000),
    "survey": Reader(_project_seeds, mutations.changed_json, read_survey, 60_000),
    "record": Reader(
        job_readers.record_file_seeds, job_readers.changed_record_file, job_readers.read_record_file, 30_000
    ),
    "events": Reader(
        lambda: list(job_readers.record_seeds()), job_readers.changed_record, job_readers.read_events, 30_000
    ),
    "replan": Reader(
        lambda: list(job_readers.record_seeds()), job_readers.changed_record, job_readers.read_replan, 30_000
    ),
    "offers": Reader(
        trade_readers.offers_seeds, trade_readers.changed_trade_file, trade_readers.read_offers_file, 20_000
    ),
    "answer": Reader(
        trade_readers.answer_seeds,
        trade_readers.changed_trade_file,
        trade_readers.read_supplier_answer,
        20_000,
    ),
    "order": Reader(trade_readers.order_seeds, mutations.changed_json, trade_readers.read_order, 60_000),
    "scenarios": Reader(
        trade_readers.scenario_seeds,
        trade_readers.changed_trade_file,
        trade_readers.read_scenario_file,
        10_000,
    ),
}

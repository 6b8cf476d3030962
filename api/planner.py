"""The one seam between the service and the optimiser: each function here runs in a limited process.

Everything that crosses is text, bytes or plain dictionaries, so that a fault of the input keeps its place and
its mend, and the process that serves never reads a file of a stranger's.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from optimiser.plan import Plan, Staging
    from optimiser.project import Project

Progress = Callable[[dict[str, Any]], None]
FORMS: dict[str, str] = {
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "pdf": "application/pdf",
    "xml": "application/xml",
}


class Unusable(Exception):  # noqa: N818
    """The input cannot be used: `faults` lists every fault with its place, message and mend."""

    def __init__(self, faults: list[dict[str, Any]], more: int = 0) -> None:
        super().__init__(faults, more)
        self.faults, self.more = faults, more


class Unreadable(Exception):  # noqa: N818
    """The body is no JSON at all; the message says where it breaks."""


class CannotBePlanned(Exception):  # noqa: N818
    """The project is well formed but cannot be planned; the message says why."""


@dataclass(frozen=True)
class Upload:
    """A project as it came in: one JSON text, or files by name (a workbook, or the csv tables)."""

    kind: Literal["json", "files"]
    files: Mapping[str, bytes]


@dataclass(frozen=True)
class PlanOptions:
    """How to plan: the contract's staging, the solver's seconds (None: as long as it takes), its seed."""

    staging: Staging = "whole"
    time_limit: float | None = None
    seed: int = 0


class BreaksTheRules(Exception):  # noqa: N818
    """The judge finds that a plan breaks rules of its project: it is not shown. The planner is at fault."""

    def __init__(self, rules: tuple[str, ...]) -> None:
        super().__init__(rules)
        self.rules = rules


@dataclass(frozen=True)
class Made:
    """What a job or one of its steps made: a document as JSON text, and the figures a list shows."""

    document: str
    summary: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class StepInput:
    """What a job's step works from: the project, what was asked for, and what the steps before it made."""

    kind: str
    step: str
    project: str
    parameters: dict[str, Any]
    made: dict[str, Made]


@dataclass(frozen=True)
class ReadProject:
    """A project as JSON text, its name, and about how many pieces it will have."""

    text: str
    name: str
    pieces: int


def read(upload: Upload) -> ReadProject:
    """Reads an upload. Raises Unreadable or Unusable."""
    return _as_read(_project_of(upload))


def read_and_plan(
    upload: Upload, options: PlanOptions, most_pieces: int, *, progress: Progress
) -> tuple[ReadProject, Made | None]:
    """Reads an upload, reports it, and plans it when it has at most so many pieces.

    Raises Unreadable, Unusable, CannotBePlanned or BreaksTheRules.
    """
    project = _project_of(upload)
    found = _as_read(project)
    progress({"read": found})
    return found, None if found.pieces > most_pieces else _planned(project, options, progress)


def run_step(work: StepInput, *, progress: Progress) -> Made:
    """One step of a job, or one part of a job that is shared out.

    Raises CannotBePlanned or BreaksTheRules.
    """
    with _told_apart():
        return _WHOLE_STEPS.get((work.kind, work.step), _study_step)(work, progress)


def _plan_step(work: StepInput, progress: Progress) -> Made:
    return _planned(_kept_project(work.project), PlanOptions(**work.parameters), progress)


def _check_step(work: StepInput, progress: Progress) -> Made:
    """Judges the plan once more as it is kept, in a process that did not make it."""
    plan = work.made["plan"]
    broken = broken_rules_of(plan.document, work.project)
    if broken:
        raise BreaksTheRules(broken)
    return plan


def _refit_step(work: StepInput, progress: Progress) -> Made:
    from api.refits.making import make_refit

    return Made(*make_refit(work.made["plan"].document, work.project, work.parameters))


def _study_step(work: StepInput, progress: Progress) -> Made:
    from api.studies.making import joined, make_part, parts_of

    if work.step == SHARE_OUT:
        parts = parts_of(work.kind, work.parameters)
        return Made(json.dumps(parts), {"parts": len(parts)})
    shared = json.loads(work.made[SHARE_OUT].document)
    if work.step == JOIN:
        documents = [work.made[part_name(number)].document for number in range(len(shared))]
        return Made(joined(work.kind, documents, work.parameters))
    number = part_number(work.step)
    assert number is not None
    part = shared[number]
    return Made(make_part(work.kind, _kept_project(work.project), part, progress))


_WHOLE_STEPS: dict[tuple[str, str], Callable[[StepInput, Progress], Made]] = {
    ("plan", "plan"): _plan_step,
    ("plan", "check"): _check_step,
    ("refit", "refit"): _refit_step,
}
SHARE_OUT, JOIN = "share out", "join"
STEPS: dict[str, tuple[str, ...]] = {
    "plan": ("plan", "check"),
    "refit": ("refit",),
    "comparison": (SHARE_OUT, JOIN),
    "allowance": (SHARE_OUT, JOIN),
}


def part_name(number: int) -> str:
    """The step that makes a part; parts count from 0."""
    return f"part {number}"


def part_number(step: str) -> int | None:
    """Which part a step makes; None when it makes none."""
    return int(step.removeprefix("part ")) if step.startswith("part ") else None


def broken_rules_of(plan: str, project: str) -> tuple[str, ...]:
    """What the independent judge finds broken in a plan of a kept project."""
    from optimiser.checking import broken_rules_of_plan
    from optimiser.plan import Plan

    return tuple(
        str(rule) for rule in broken_rules_of_plan(Plan.model_validate_json(plan), _kept_project(project))
    )


def _planned(project: Project, options: PlanOptions, progress: Progress) -> Made:
    from optimiser.cutting_pieces import PlanProgress
    from optimiser.planning import plan
    from optimiser.writing.plan_json import plan_json

    def report(found: PlanProgress) -> None:
        progress({**asdict(found), "fraction": found.bound / found.best if found.best else None})

    with _told_apart():
        found = plan(
            project,
            staging=options.staging,
            time_limit=options.time_limit,
            seed=options.seed,
            progress=report,
        )
    return Made(plan_json(found), figures_of(found))


@contextmanager
def _told_apart() -> Iterator[None]:
    """The optimiser's refusals as this seam's own, which a process without the optimiser can read."""
    from optimiser.broken_rules import BreaksRules
    from optimiser.reading.problems import CannotBeDone

    try:
        yield
    except BreaksRules as error:
        raise BreaksTheRules(error.rules) from None
    except CannotBeDone as error:
        raise CannotBePlanned(str(error)) from None


def figures_of(plan: Plan) -> dict[str, Any]:
    """The figures of a plan that a list of plans shows."""
    return {
        "boards": sum(count.count for count in plan.boards.values()),
        "lower_bound": sum(count.lower_bound for count in plan.boards.values()),
        "pieces": len(plan.pieces),
        "layouts": len(plan.layouts),
        "not_planned": len(plan.not_planned),
        "scrap_fraction": plan.waste.scrap_fraction,
        "total": plan.model_dump(mode="json", include={"order": {"total"}})["order"]["total"],
        "currency": plan.order.currency,
    }


def _project_of(upload: Upload) -> Project:
    from optimiser.reading import project_from_json, read_project
    from optimiser.reading.problems import UnusableInput

    try:
        if upload.kind == "json":
            (text,) = upload.files.values()
            return project_from_json(_parsed(text))
        with tempfile.TemporaryDirectory() as folder:
            for name, content in upload.files.items():
                (Path(folder) / name).write_bytes(content)
            names = list(upload.files)
            return read_project(Path(folder) / names[0] if len(names) == 1 else Path(folder))
    except UnusableInput as error:
        raise Unusable([_fault(problem) for problem in error.problems], error.more) from None


def _parsed(text: bytes) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise Unreadable(str(error) if isinstance(error, ValueError) else "nested too deeply") from None


def _fault(problem: Any) -> dict[str, Any]:
    """A problem of the reading as plain values; its place names sheet, row and column together."""
    parts = [problem.place] if problem.place else []
    parts += [f"row {problem.row}"] if problem.row is not None else []
    parts += [str(problem.column)] if problem.column is not None else []
    value = problem.value if isinstance(problem.value, (str, int, float, bool)) else str(problem.value)
    return {
        "place": ", ".join(parts) or "input",
        "table": problem.place,
        "row": problem.row,
        "column": problem.column,
        "cell": problem.cell,
        "value": None if problem.value is None else value,
        "message": problem.message,
        "mend": problem.mend,
    }


def _kept_project(text: str) -> Project:
    from optimiser.project import Project

    return Project.model_validate_json(text)


def _as_read(project: Project) -> ReadProject:
    lengths = {product.code: product.length_mm or 1 for product in project.products_of("board")}
    pieces = sum(-(-run.length_mm // max(lengths[code] for code in run.board)) for run in project.runs)
    text = project.model_dump_json(by_alias=True, exclude_unset=True)
    return ReadProject(text, project.project.name or "Unnamed project", pieces)

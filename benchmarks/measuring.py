"""One measurement of one case: the solver's own clock, a clock outside it, and a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

from benchmarks.registry import Case, Group
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.solve import Progress, solve

LAUNCHER = Path(__file__).with_name("launcher.py")
COMMAND = Path(sys.executable).with_name("barrier-orders")
CLOCK_KEYS = {"solve_seconds", "first_answer", "cost_seconds"}


class CommandFailedError(RuntimeError):
    """The command line did not answer a problem of the benchmark."""


@dataclass(frozen=True)
class Measurement:
    """What one case showed. Seconds: `solve_seconds` as the result reports until the search for the least cost ended
    (what waits is measured in `benchmarks.waiting`), `outside_seconds` the same around the call in this process,
    `command_seconds` around a whole `barrier-orders cut` process, start-up and JSON
    included."""

    case: str
    seed: int | None
    pieces: int
    boards: int
    lower_bound: int
    optimal: bool
    known_optimum: int | None
    solve_seconds: float
    outside_seconds: float
    cpu_seconds: float
    broken_rules: tuple[str, ...]
    first_answer_boards: int | None = None
    first_answer_seconds: float | None = None
    short_run_boards: int | None = None
    short_run_seconds: float | None = None
    command_boards: int | None = None
    command_seconds: float | None = None
    command_solve_seconds: float | None = None
    command_megabytes: float | None = None
    same_plan_again: bool | None = None

    @property
    def seconds(self) -> float:
        """The slower of the solver's own clock and the one outside."""
        return max(self.solve_seconds, self.outside_seconds)

    @property
    def proved_bound_holds(self) -> bool:
        """The bound is not above the plan, nor above the known optimum, nor the plan below it."""
        known = self.known_optimum
        return self.lower_bound <= self.boards and (known is None or self.lower_bound <= known <= self.boards)


@dataclass(frozen=True)
class CommandRun:
    """What `barrier-orders cut` answered in a process of its own, its seconds and its peak of memory."""

    result: CuttingResult
    seconds: float
    megabytes: float


def measure(case: Case, group: Group, *, through_command: bool) -> Measurement:
    """Solves a case in this process and, if asked, once more through the command line.

    Raises CommandFailedError when the command line does not answer with a result.
    """
    problem = case.generate()
    broken: list[str] = []
    short_boards = short_seconds = None
    if group.short_limit is not None:
        short, short_seconds, _ = _solved(problem, group.short_limit)
        short_boards = short.boards
        broken += broken_rules_of_result(short, problem)
    cpu_before = process_time()
    result, seconds, first = _solved(problem, group.time_limit)
    cpu_seconds = process_time() - cpu_before
    if result.cost_seconds is not None:  # after that it is waiting that is made less
        after = max(0.0, result.solve_seconds - result.cost_seconds)
        seconds, cpu_seconds = seconds - after, cpu_seconds * (1 - after / max(result.solve_seconds, 1e-9))
    broken += broken_rules_of_result(result, problem)
    command = run_command(problem, group.time_limit) if through_command else None
    return Measurement(
        case=case.name,
        seed=case.seed,
        pieces=sum(piece.quantity for piece in problem.pieces),
        boards=result.boards,
        lower_bound=result.lower_bound,
        optimal=result.optimal,
        known_optimum=case.known_optimum,
        solve_seconds=result.solve_seconds if result.cost_seconds is None else result.cost_seconds,
        outside_seconds=seconds,
        cpu_seconds=cpu_seconds,
        broken_rules=tuple(broken),
        first_answer_boards=first[0] if first else None,
        first_answer_seconds=first[1] if first else None,
        short_run_boards=short_boards,
        short_run_seconds=short_seconds,
        command_boards=command.result.boards if command else None,
        command_seconds=command.seconds if command else None,
        command_solve_seconds=command.result.solve_seconds if command else None,
        command_megabytes=command.megabytes if command else None,
        same_plan_again=_plan_of(command.result) == _plan_of(result) if command else None,
    )


def _solved(
    problem: CuttingProblem, time_limit: float
) -> tuple[CuttingResult, float, tuple[int, float] | None]:
    """The result, the seconds of the whole call, and boards and seconds of the first answer that was told."""
    told: list[tuple[int, float]] = []
    started = perf_counter()

    def note(state: Progress) -> None:
        if not told:
            told.append((state.best, perf_counter() - started))

    result = solve(problem, time_limit=time_limit, seed=0, progress=note)
    return result, perf_counter() - started, told[0] if told else None


def _plan_of(result: CuttingResult) -> dict[str, Any]:
    return result.model_dump(exclude=CLOCK_KEYS)


def run_command(problem: CuttingProblem, time_limit: float | None = None) -> CommandRun:
    """`barrier-orders cut` on the problem, in a process of its own.

    Raises CommandFailedError with what it wrote to stderr when it does not end with exit code 0.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "problem.json"
        path.write_text(json.dumps(as_contract_json(problem)), encoding="utf-8")
        limit = [] if time_limit is None else ["--time-limit", f"{time_limit:g}"]
        output, errors, report = (
            Path(folder) / name for name in ("result.json", "errors.txt", "report.json")
        )
        with output.open("wb") as stdout, errors.open("wb") as stderr:
            done = subprocess.run(
                [sys.executable, "-I", "-S", LAUNCHER, report, COMMAND, "cut", path, *limit],
                stdout=stdout,
                stderr=stderr,
                check=False,
            )
        if done.returncode:
            raise CommandFailedError(errors.read_text(encoding="utf-8"))
        result = CuttingResult.model_validate_json(output.read_bytes())
        usage = json.loads(report.read_text(encoding="utf-8"))
    return CommandRun(result, usage["seconds"], usage["megabytes"])


def as_contract_json(problem: CuttingProblem) -> dict[str, Any]:
    """The problem as a person writes it: one `board` unless several are priced, no field at its default."""
    written = problem.model_dump(mode="json", exclude_defaults=True)
    written.pop("objective", None)
    if problem.counts_boards:
        board = dict(written.pop("boards")[0])
        board.pop("code", None)
        board.pop("price_cents", None)
        written["board"] = board
    else:
        for board, model in zip(written["boards"], problem.boards, strict=True):
            board.update(code=model.code, price_cents=model.price_cents)
    return written

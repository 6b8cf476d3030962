"""Which targets are met, by how much, and which cases miss them."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from time import perf_counter

from benchmarks.aims import Aim
from benchmarks.measuring import COMMAND, Measurement
from benchmarks.registry import Target

HELP_SECONDS = 0.3
COMPILATION_SECONDS = 10.0
KERNELS = sorted((Path(__file__).resolve().parent.parent / "optimiser" / "kernels").glob("*.c"))


@dataclass(frozen=True)
class Verdict:
    """How a target went: `reached` of `measured` cases, where `needed` were asked for. `aim`: what it is a part of, if
    anything. Of a target that is not `measured` here the `numbers` say where."""

    group: str
    statement: str
    met: bool
    reached: int
    needed: int
    measured: int
    numbers: str
    missed_by: tuple[str, ...]
    aim: Aim | None = None

    @property
    def outcome(self) -> str:
        """In a word."""
        if not self.measured:
            return "not measured"
        return "met" if self.met else "MISSED"


def judge(target: Target, measurements: list[Measurement], failed: Collection[str] = ()) -> Verdict:
    """The verdict on a target over the measurements of its group.

    When fewer cases were run than the target asks for (`--quick`), all of them must reach it. `failed` names the
    cases on which the solver broke down: they were run and are missed.
    """
    missed = [one.case for one in measurements if not _reaches(target, one)] + [*failed]
    run = len(measurements) + len(failed)
    reached = run - len(missed)
    needed = min(target.needed, run)
    return Verdict(
        group=target.group,
        statement=target.statement,
        met=run > 0 and reached >= needed,
        reached=reached,
        needed=needed,
        measured=run,
        numbers=_numbers(target, measurements),
        missed_by=tuple(missed),
        aim=target.aim,
    )


def _reaches(target: Target, one: Measurement) -> bool:
    boards, seconds = _answer(target, one)
    above = boards - one.lower_bound
    return (
        seconds <= target.seconds
        and not one.broken_rules
        and one.proved_bound_holds
        and (target.boards_above_bound is None or above <= target.boards_above_bound)
        and (target.share_above_bound is None or above <= target.share_above_bound * one.lower_bound)
        and (not target.at_known_optimum or boards == one.known_optimum)
        and (
            target.megabytes is None
            or one.command_megabytes is None
            or one.command_megabytes <= target.megabytes
        )
    )


def _answer(target: Target, one: Measurement) -> tuple[int, float]:
    answers: dict[str, tuple[int | None, float | None]] = {
        "plan": (one.boards, one.seconds),
        "first": (one.first_answer_boards, one.first_answer_seconds),
        "short run": (one.short_run_boards, one.short_run_seconds),
    }
    boards, seconds = answers[target.answer]
    if boards is None or seconds is None:
        raise ValueError(f"{one.case} was measured without the answer '{target.answer}'")
    return boards, seconds


def _numbers(target: Target, measurements: list[Measurement]) -> str:
    if not measurements:
        return "not measured"
    answers = [_answer(target, one) for one in measurements]
    seconds = [answer[1] for answer in answers]
    above = [boards - one.lower_bound for (boards, _), one in zip(answers, measurements, strict=True)]
    share = max(distance / max(1, one.lower_bound) for distance, one in zip(above, measurements, strict=True))
    text = (
        f"seconds median {median(seconds):.3f}, most {max(seconds):.3f};"
        f" boards above the bound: most {max(above)} ({share:.2%})"
    )
    if target.answer == "plan":
        cpu = [one.cpu_seconds for one in measurements]
        text += f"; CPU seconds median {median(cpu):.3f}, most {max(cpu):.3f}"
    megabytes = [one.command_megabytes for one in measurements if one.command_megabytes is not None]
    if target.megabytes is not None and megabytes:
        text += f"; {max(megabytes):.0f} MB"
    return text


def judge_start_up() -> list[Verdict]:
    """`barrier-orders --help` from outside, and the kernels compiled afresh into a folder of their own."""
    runs = []
    for _ in range(7):
        started = perf_counter()
        done = subprocess.run([COMMAND, "--help"], capture_output=True, check=False)
        runs.append(perf_counter() - started)
    works = done.returncode == 0
    verdicts = [
        _single(
            "start-up",
            f"`barrier-orders --help` under {HELP_SECONDS} s",
            works and median(runs) < HELP_SECONDS,
            f"seconds median {median(runs):.3f} of 7, most {max(runs):.3f}" if works else "it failed",
        )
    ]
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        return verdicts
    with tempfile.TemporaryDirectory() as folder:
        started = perf_counter()
        for source in KERNELS:
            built = str(Path(folder) / f"{source.stem}.so")
            subprocess.run(
                [compiler, "-O3", "-std=c11", "-shared", "-fPIC", str(source), "-o", built, "-lm"], check=True
            )
        seconds = perf_counter() - started
    verdicts.append(
        _single(
            "compilation",
            f"first compilation under {COMPILATION_SECONDS:g} s, cached (the set-up builds the kernels)",
            seconds < COMPILATION_SECONDS,
            f"{seconds:.2f} s for {len(KERNELS)} kernels",
        )
    )
    return verdicts


def _single(group: str, statement: str, met: bool, numbers: str) -> Verdict:
    return Verdict(group, statement, met, int(met), 1, 1, numbers, () if met else (group,))

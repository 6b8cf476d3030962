"""Mutants tried: the tests are collected once, and each mutant runs its own in a fork, where one function has its code.

Nothing is written into the project: the changed module is compiled, and the code of the one function that differs takes
the place of what it had, in the fork alone. So a mutant costs what its tests cost, and no import.
"""

from __future__ import annotations

import importlib
import json
import os
import resource
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from itertools import accumulate
from math import inf
from pathlib import Path
from types import CodeType, FrameType, FunctionType
from typing import Any, NamedTuple

import pytest

from tests.mutation.changes import Mutant, changed_text

ROOT = Path(__file__).resolve().parents[2]
WRAPPERS = ("fget", "func", "__func__", "__wrapped__", "wrapped")
MAP_SECONDS = 7200


class Outcome(NamedTuple):
    """What became of a mutant: the test that fails, or how its fork ended; '' for a survivor. CPU seconds."""

    killed_by: str
    seconds: float


class Covered(NamedTuple):
    """The tests that call each function (`module.py:Class.method`), and the CPU seconds of each test."""

    tests: dict[str, list[str]]
    seconds: dict[str, float]


class Trying:
    """A pytest plugin in the place of its loop: `told` is given each mutant with its outcome.

    `into` keeps which test calls what, noted in a first run of all tests. Functions are told by calls alone, not by
    lines, which costs little. What a cached builder computes is noted for the first test that asks for it, so the tests
    of a mutant end with the others of the same files; `at_most` so many CPU seconds of tests are run for one.
    """

    def __init__(
        self,
        folder: str,
        mutants: Sequence[Mutant],
        into: Path,
        told: Callable[[Mutant, Outcome], None],
        at_most: float = inf,
    ) -> None:
        self.folder, self.mutants, self.into, self.told, self.at_most = folder, mutants, into, told, at_most
        self.items: dict[str, pytest.Item] = {}
        self.failed = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Called in the forks."""
        if report.failed:
            self.failed = self.failed or report.nodeid

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Instead of running the tests that were collected."""
        if session.testsfailed:
            raise session.Interrupted("tests cannot be collected")
        self.items = {item.nodeid: item for item in session.items}
        for mutant in self.mutants:
            importlib.import_module(_module(mutant))
        if not self.into.exists():
            failed = in_a_fork(lambda: self._note(list(self.items)), MAP_SECONDS)
            if failed.killed_by:
                raise session.Interrupted(f"{failed.killed_by} fails on the project as it is")
        found = json.loads(self.into.read_text())
        covered = Covered(found["tests"], found["seconds"])
        for mutant in self.mutants:
            self.told(mutant, self._outcome(mutant, covered))
        return True

    def _outcome(self, mutant: Mutant, covered: Covered) -> Outcome:
        """Its tests, the fastest first, then the other tests of their files."""
        named = set(covered.tests.get(f"{Path(mutant.module).name}:{mutant.function}", ()))
        files = {name.split("::")[0] for name in named}
        others = {name for name in self.items if name.split("::")[0] in files} - named
        tests = [
            name
            for some in (named, others)
            for name in sorted(some & self.items.keys(), key=lambda one: covered.seconds.get(one, 0.0))
        ]
        spent = accumulate(covered.seconds.get(name, 0.0) for name in tests)
        tests = [name for name, so_far in zip(tests, spent, strict=True) if so_far <= self.at_most]
        limit = int(20 + 4 * sum(covered.seconds.get(name, 0.0) for name in tests))

        def work() -> str:
            put(mutant)
            return self._run(tests)

        return in_a_fork(work, limit) if tests else Outcome("", 0.0)

    def _run(self, names: Sequence[str]) -> str:
        """The first of the tests that fails; '' where all pass."""
        items = [self.items[name] for name in names]
        for item, following in zip(items, [*items[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self.failed:
                return self.failed
        return ""

    def _note(self, names: Sequence[str]) -> str:
        """All tests once, noting what each calls of the folder."""
        folder = f"{ROOT / 'optimiser' / self.folder}/"
        calls: dict[str, list[str]] = {}
        seconds: dict[str, float] = {}
        for name in names:
            codes: set[CodeType] = set()

            def note(frame: FrameType, event: str, argument: object, codes: set[CodeType] = codes) -> None:
                codes.add(frame.f_code)

            began = time.process_time()
            sys.settrace(note)
            threading.settrace(note)  # of the threads that a test starts
            try:
                self._run([name])
            finally:
                sys.settrace(None)
                threading.settrace(None)  # type: ignore[arg-type]
            seconds[name] = round(time.process_time() - began, 2)
            for code in codes:
                if code.co_filename.startswith(folder):
                    function = code.co_qualname.split(".<locals>")[0]
                    calls.setdefault(f"{code.co_filename.removeprefix(folder)}:{function}", []).append(name)
            if self.failed:
                return self.failed
        self.into.write_text(json.dumps({"tests": calls, "seconds": seconds}))
        return ""


def in_a_fork(work: Callable[[], str], cpu_seconds: int) -> Outcome:
    """What `work` says in a process of its own, or how that ended: over its CPU seconds it is stopped by a signal."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        told = "its own start"
        try:
            os.close(reading)
            resource.setrlimit(resource.RLIMIT_CPU, (cpu_seconds, cpu_seconds + 5))
            sink = os.open(os.devnull, os.O_WRONLY)
            os.dup2(sink, 1)
            os.dup2(sink, 2)
            told = work()
        finally:
            os.write(writing, told.encode())
            os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        told = pipe.read().decode()
    _, status, used = os.wait4(child, 0)
    seconds = round(used.ru_utime + used.ru_stime, 1)
    ended = os.waitstatus_to_exitcode(status)
    return Outcome(told if ended == 0 else f"its end with {ended}", seconds)


def put(mutant: Mutant) -> None:
    """Give the mutant's function its changed code, in this process."""
    text = (ROOT / "optimiser" / mutant.module).read_text("utf-8")
    module = sys.modules[_module(mutant)]
    changed = [
        code
        for code in _codes(compile(changed_text(text, mutant), str(module.__file__), "exec"))
        if code.co_qualname == mutant.function
    ]
    found: Any = module
    for part in mutant.function.split("."):
        found = found.__dict__[part]
    while not isinstance(found, FunctionType):
        found = next(getattr(found, name) for name in WRAPPERS if hasattr(found, name))
    while hasattr(found, "__wrapped__"):
        found = found.__wrapped__
    found.__code__ = changed[-1]


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _codes(constant)


def _module(mutant: Mutant) -> str:
    return f"optimiser.{mutant.module.removesuffix('.py').replace('/', '.')}"

"""Changes to the cutting solver by machine, from a seed: `python -m tests.cutting.mutants [--count N] [--first K]`.

Every comparison, sum, difference, `and`, `or`, `not`, `min`, `max`, truth value and small whole number in a function of
`optimiser/cutting` is a place; a mutant changes one of them. Numbers at the top of a module are left out: they set how
much is searched, which no test of results can or should notice. A copy of the project is changed and the tests of
cutting run on it, the quick ones first (`--quick`: these alone): a mutant is killed when one fails, the process dies or
its time is up. Prints a line a mutant; exit status 1 when fewer than nine of ten are killed, those argued in `ARGUED`
not counted.
"""

from __future__ import annotations

import argparse
import ast
import os
import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from random import Random
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
COPIED = ("optimiser", "tests", "benchmarks", "sample_orders", "pyproject.toml")
SEED = 60
COUNT = 60
CPU_SECONDS = 240
KILLED_AT_LEAST = 0.9
LARGEST_NUMBER = 10
TESTS = (
    "test_integer", "test_parts_of_a_problem", "test_paid_anyway", "test_clock", "test_dealing_out", "test_prices",
    "test_strip_bound", "test_rearranging", "test_tapered_pairs", "test_packing", "test_short_offcuts",
    "test_several_boards", "test_against_brute_force", "test_waiting", "test_secondary_aims", "test_tighter",
    "test_every_search_ends", "test_rack", "test_published_values",
)  # fmt: skip
OPPOSITE: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
ARGUED: dict[str, str] = {}
"""Survivors that change no result, by `Place.name`, each with the reason."""


class Place(NamedTuple):
    """What can be changed: the `number`-th such node of a module, and what it becomes."""

    module: str
    line: int
    number: int
    change: str

    @property
    def name(self) -> str:
        """Module, line and change, to be read."""
        return f"{self.module}:{self.line} {self.change}"


def _change(node: ast.AST) -> tuple[str, ast.AST] | None:
    """What a node becomes, in words and as a node; None where nothing is changed."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        other = OPPOSITE[type(node.ops[0])]()
        return _told(node, ast.Compare(node.left, [other], node.comparators))  # type: ignore[list-item]
    if isinstance(node, ast.BinOp) and type(node.op) in OPPOSITE:
        return _told(node, ast.BinOp(node.left, OPPOSITE[type(node.op)](), node.right))  # type: ignore[arg-type]
    if isinstance(node, ast.BoolOp):
        return _told(node, ast.BoolOp(OPPOSITE[type(node.op)](), node.values))  # type: ignore[arg-type]
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        return _told(node, node.operand)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("min", "max"):
        other_name = "max" if node.func.id == "min" else "min"
        return _told(node, ast.Call(ast.Name(other_name, ast.Load()), node.args, node.keywords))
    if isinstance(node, ast.Constant) and isinstance(node.value, bool):
        return _told(node, ast.Constant(not node.value))
    if isinstance(node, ast.Constant) and isinstance(node.value, int) and node.value <= LARGEST_NUMBER:
        return _told(node, ast.Constant(node.value + 1))
    return None


def _told(before: ast.AST, after: ast.AST) -> tuple[str, ast.AST]:
    return f"{ast.unparse(before)} -> {ast.unparse(after)}", after


class _Changed(ast.NodeTransformer):
    """A module with its `wanted`-th place changed; None: only counted, in `places`."""

    def __init__(self, module: str, wanted: int | None = None) -> None:
        self.module = module
        self.wanted = wanted
        self.places: list[Place] = []
        self._within = 0

    def visit(self, node: ast.AST) -> ast.AST:
        if isinstance(node, ast.FunctionDef):
            return self._function(node)
        changed = _change(node) if self._within else None
        if changed is not None:
            number = len(self.places)
            self.places.append(Place(self.module, getattr(node, "lineno", 0), number, changed[0]))
            if number == self.wanted:
                return ast.copy_location(changed[1], node)
        return self.generic_visit(node)

    def _function(self, node: ast.FunctionDef) -> ast.AST:
        """The body alone: neither defaults nor annotations."""
        self._within += 1
        node.body = [self.visit(statement) for statement in node.body]  # type: ignore[misc]
        self._within -= 1
        return node


def places() -> Iterator[Place]:
    """Every place of the cutting solver, module by module."""
    for path in sorted((ROOT / "optimiser" / "cutting").glob("*.py")):
        counting = _Changed(path.name)
        counting.visit(ast.parse(path.read_text(encoding="utf-8")))
        yield from counting.places


def sample(seed: int, count: int) -> list[Place]:
    """So many of all places, drawn from the seed."""
    return Random(seed).sample(list(places()), count)


def changed_text(place: Place) -> str:
    """The module with that place changed."""
    tree = ast.parse((ROOT / "optimiser" / "cutting" / place.module).read_text(encoding="utf-8"))
    return ast.unparse(ast.fix_missing_locations(_Changed(place.module, place.number).visit(tree)))


def _limited() -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))


def outcome_of(place: Place, copy: Path, marks: Sequence[str]) -> str:
    """The first test that fails on the mutant, of those so marked, or how its process ended; '' for a survivor."""
    path = copy / "optimiser" / "cutting" / place.module
    kept = path.read_text(encoding="utf-8")
    path.write_text(changed_text(place), encoding="utf-8")
    try:
        return next(filter(None, (failure(copy, mark) for mark in marks)), "")
    finally:
        path.write_text(kept, encoding="utf-8")


def failure(copy: Path, mark: str) -> str:
    """The first test with that mark that fails in the copy, or how its process ended; '' where all pass."""
    options = ["-q", "-x", "-p", "no:cacheprovider", "-m", mark, "--no-header", "--tb=no"]
    run = subprocess.run(
        [sys.executable, "-m", "pytest", *options, *(f"tests/cutting/{name}.py" for name in TESTS)],
        cwd=copy,
        env=os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        preexec_fn=_limited,
        check=False,
    )
    if run.returncode == 0:
        return ""
    failed = [line.split()[1] for line in run.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return failed[0] if failed else f"its end with {run.returncode}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Tries the mutants of the sample; 1 when too many survive."""
    parser = argparse.ArgumentParser(prog="python -m tests.cutting.mutants")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument(
        "--count", type=int, default=COUNT, help="of the sample, which is 60 whatever is tried"
    )
    parser.add_argument("--first", type=int, default=0, help="the number in the sample to begin with")
    parser.add_argument("--quick", action="store_true", help="the quick tests alone")
    options = parser.parse_args(arguments)
    marks = ["not slow"] if options.quick else ["not slow", "slow"]
    chosen = sample(options.seed, COUNT)[options.first :][: options.count]
    killed = argued = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in COPIED:
            if (ROOT / name).is_dir():
                shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(ROOT / name, copy / name)
        if broken := next(filter(None, (failure(copy, mark) for mark in marks)), ""):
            print(f"{broken} fails on the solver as it is", file=sys.stderr)
            return 1
        for number, place in enumerate(chosen, options.first):
            outcome = outcome_of(place, copy, marks)
            killed += bool(outcome)
            argued += not outcome and place.name in ARGUED
            told = f"killed by {outcome}" if outcome else f"SURVIVES {ARGUED.get(place.name, '')}"
            print(f"{number} {place.name}: {told}", flush=True)
    counted = len(chosen) - argued
    print(f"{killed} of {counted} killed, {argued} more argued")
    return 0 if killed >= KILLED_AT_LEAST * counted else 1


if __name__ == "__main__":
    sys.exit(main())

"""`python -m tests.mutation --folder takeoff ordering --sample 30 --seed 1 [--slow]`

Draws mutants of a folder from a seed and runs the tests that call what is changed, the fastest first, each mutant in
a fork that alone has the change; a mutant is killed when a test fails, the process dies or its CPU time is up. Prints a
line a mutant. Leaves with 1 when fewer than nine of ten are killed, those of `argued.py` not counted.

Of the libraries, none draws a sample from a seed, asks only the tests that call what is changed and leaves the project
as it is: mutmut rewrites every function of a package at once, cosmic-ray changes files in place and runs one command.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Collection
from math import inf
from pathlib import Path
from tempfile import gettempdir

import pytest

from tests.mutation.argued import ARGUED
from tests.mutation.changes import Mutant, sample
from tests.mutation.trying import ROOT, Outcome, Trying

KILLED_AT_LEAST = 0.9
OPTIONS = ("-q", "-s", "--no-header", "-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-seed=0")
ASKED = {
    "takeoff": ("takeoff", "planning", "survey", "simulation"),
    "ordering": ("ordering", "planning", "reading/test_offers.py"),
    "checking": ("checking",),
    "joints": ("joints", "planning"),
    "boards": ("boards", "planning"),
    "replanning": ("replanning",),
    "cutting": ("cutting",),
}
"""Whose tests may kill a folder's mutants; of each the folders in the order of the data flow, `tests/`."""


def main() -> None:
    """Try the mutants of a sample of each folder; leaves with 1 where too many survive."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("--folder", choices=sorted(ASKED), nargs="+", default=list(ASKED))
    parser.add_argument("--sample", type=int, default=30, help="mutants of each folder")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int, nargs="+", default=(), help="these numbers of the sample alone")
    parser.add_argument("--at-most", type=float, default=inf, help="CPU seconds of tests for a mutant")
    parser.add_argument("--slow", action="store_true", help="ask the slow tests too")
    parser.add_argument(
        "--into", type=Path, default=Path(gettempdir()) / "mutation", help="which test calls what"
    )
    given = parser.parse_args()
    given.into.mkdir(parents=True, exist_ok=True)
    enough = [
        tried(folder, given.sample, given.seed, given.only, given.slow, given.into, given.at_most)
        for folder in given.folder
    ]
    sys.exit(0 if all(enough) else 1)


def tried(
    folder: str, count: int, seed: int, only: Collection[int], slow: bool, into: Path, at_most: float
) -> bool:
    """Whether nine of ten of a folder's sample are killed; a line a mutant, and one of all."""
    drawn = sample(ROOT, folder, count, seed)
    number = {mutant: place for place, mutant in enumerate(drawn)}
    chosen = [mutant for mutant in drawn if not only or number[mutant] in only]
    outcomes: dict[Mutant, Outcome] = {}

    def told(mutant: Mutant, outcome: Outcome) -> None:
        outcomes[mutant] = outcome
        why = f" ({ARGUED[mutant.name]})" if mutant.name in ARGUED else ""
        words = f"killed by {outcome.killed_by}" if outcome.killed_by else f"SURVIVES{why}"
        print(f"{number[mutant]} {mutant.line} {mutant.name}: {words}, {outcome.seconds} s", flush=True)

    tests = [f"tests/{name}" for name in ASKED[folder] if (ROOT / "tests" / name).exists()]
    trying = Trying(folder, chosen, into / f"{folder}{'-slow' * slow}.json", told, at_most)
    pytest.main([*OPTIONS, *(() if slow else ("-m", "not slow")), *tests], [trying])
    killed = sum(bool(outcome.killed_by) for outcome in outcomes.values())
    argued = sum(not outcome.killed_by and one.name in ARGUED for one, outcome in outcomes.items())
    counted = len(chosen) - argued
    print(f"{folder}: {killed} of {counted} killed, {argued} more argued", flush=True)
    return killed >= KILLED_AT_LEAST * counted


if __name__ == "__main__":
    main()

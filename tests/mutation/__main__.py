"""`python -m tests.mutation --folder takeoff [--sample 30] [--seed 1] [--into FOLDER]`

Draws mutants of a folder from a seed and runs the tests that call what is changed, the fastest first, in a copy of
the project; a mutant is killed when one fails, the process dies or its CPU time is up. Prints a line a mutant. Leaves
with 1 when fewer than nine of ten are killed, those of `argued.py` not counted.

Of the libraries, none draws a sample from a seed, asks only the tests that call what is changed and leaves the project
as it is: mutmut rewrites every function of a package at once, cosmic-ray changes files in place and runs one command.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from tests.mutation.argued import ARGUED
from tests.mutation.changes import sample
from tests.mutation.trying import ROOT, Copy, preload

KILLED_AT_LEAST = 0.9
ASKED = {
    "takeoff": ("takeoff", "planning", "survey", "simulation"),
    "ordering": ("ordering", "planning"),
    "checking": ("checking", "ordering", "planning", "boards"),
    "joints": ("joints", "planning", "boards", "takeoff"),
    "boards": ("boards", "planning", "replanning"),
    "replanning": ("replanning",),
    "cutting": ("cutting", "boards"),
}
"""Whose tests may kill a folder's mutants; of each the folders in the order of the data flow, `tests/`."""


def main() -> None:
    """Try the mutants of a sample; leaves with 1 where too many survive."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("--folder", choices=sorted(ASKED), required=True)
    parser.add_argument("--sample", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="the number in the sample to begin with")
    parser.add_argument("--only", type=int, nargs="+", default=(), help="these numbers of the sample alone")
    parser.add_argument("--slow", action="store_true", help="ask the slow tests too")
    parser.add_argument("--into", type=Path, default=Path(tempfile.gettempdir()) / "mutation")
    given = parser.parse_args()
    chosen = list(enumerate(sample(ROOT, given.folder, given.sample, given.seed)))[given.first :]
    if given.only:
        chosen = [one for one in chosen if one[0] in given.only]
    tests = [f"tests/{name}" for name in ASKED[given.folder] if (ROOT / "tests" / name).is_dir()]
    preload()
    given.into.mkdir(parents=True, exist_ok=True)
    killed = argued = 0
    with tempfile.TemporaryDirectory(prefix="mutation") as folder:
        copy = Copy(Path(folder), tests, slow=given.slow)
        copy.cover(given.folder, given.into / f"{given.folder}{'-slow' * given.slow}.json")
        for number, mutant in chosen:
            outcome = copy.outcome(mutant)
            killed += bool(outcome.killed_by)
            argued += not outcome.killed_by and mutant.name in ARGUED
            told = f"killed by {outcome.killed_by}" if outcome.killed_by else "SURVIVES"
            told += "" if outcome.killed_by else f" ({ARGUED[mutant.name]})" if mutant.name in ARGUED else ""
            print(f"{number} line {mutant.line} {mutant.name}: {told}, {outcome.seconds} s", flush=True)
    counted = len(chosen) - argued
    print(f"{given.folder}: {killed} of {counted} killed, {argued} more argued")
    sys.exit(0 if killed >= KILLED_AT_LEAST * counted else 1)


if __name__ == "__main__":
    main()

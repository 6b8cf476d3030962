"""The kernels' tests once more with address and undefined-behaviour sanitizers: `python -m tests.kernels.sanitized`.

Needs gcc. A read beyond an array, an overflow or a shift too far ends the run with the place in the C. Before that a
kernel with a fault put in is run, which must be found: so the sanitizers are known to bite.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from optimiser.kernels.loading import FOLDER, LIBRARIES, VARIABLE
from tests.kernels.building import COMPILER, build

FLAGS = ("-O1", "-g", "-fno-omit-frame-pointer", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")
TESTS = (
    "tests/kernels/test_against_references.py",
    "tests/kernels/test_bindings.py",
    "tests/kernels/test_cutting.py",
)
FAULTS = {
    "heap-buffer-overflow": ("(size_t)(capacity + 1) * sizeof *first", "(size_t)capacity * sizeof *first"),
    "signed integer overflow": ("part * size, part * value}", "part * size, part * value * INT64_MAX}"),
}
ONE_PRICING = """
import numpy as np
from optimiser.kernels.bindings import price_boards
price_boards(*[np.array([3, 4], dtype=np.int32)] * 2, np.array([50, 60], dtype=np.int64), 10)
"""


def environment(folder: Path) -> dict[str, str]:
    """The libraries of a folder, with the sanitizers' own library loaded before Python's."""
    assert COMPILER is not None
    asan = subprocess.run(
        [COMPILER, "-print-file-name=libasan.so"], capture_output=True, text=True, check=True
    ).stdout.strip()
    return os.environ | {
        VARIABLE: str(folder),
        "LD_PRELOAD": asan,
        "ASAN_OPTIONS": "detect_leaks=0",  # Python keeps what it keeps; test_memory counts the kernels' own
        "UBSAN_OPTIONS": "print_stacktrace=1",
    }


def faults_are_found(folder: Path) -> bool:
    """Whether each fault put into the source is found when it runs."""
    source = (FOLDER / "cutting.c").read_text()
    for number, (says, (right, wrong)) in enumerate(FAULTS.items()):
        faulty = folder / str(number)
        faulty.mkdir()
        for header in FOLDER.glob("*.h"):
            (faulty / header.name).write_text(header.read_text())
        others = [name for name in LIBRARIES if name != "cutting"]
        for name in others:
            (faulty / f"{name}.c").write_text((FOLDER / f"{name}.c").read_text())
        assert source.count(right) >= 1, f"the fault no longer fits the source: {right}"
        (faulty / "cutting.c").write_text(source.replace(right, wrong))
        build(faulty, FLAGS, ("cutting",), faulty)
        for name in others:
            (faulty / f"_{name}.so").symlink_to(folder / f"_{name}.so")
        done = subprocess.run(
            [sys.executable, "-c", ONE_PRICING],
            env=environment(faulty),
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode == 0 or says not in done.stderr:
            print(f"the sanitizers did not find a {says} put in on purpose:\n{done.stderr}", file=sys.stderr)
            return False
    return True


def main() -> int:
    """Exit status 0 when nothing was found."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        build(folder, FLAGS)
        if not faults_are_found(folder):
            return 1
        command = [sys.executable, "-m", "pytest", "-x", "-q", "-s", "-p", "no:cacheprovider", *TESTS]
        return subprocess.run(
            [*command, "--hypothesis-profile=mutants"], env=environment(folder), check=False
        ).returncode


if __name__ == "__main__":
    sys.exit(main())

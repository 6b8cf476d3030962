"""Builds the kernels in other ways than the set-up does: with failing allocations, sanitizers, or a change."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

from optimiser.kernels.loading import FOLDER, LIBRARIES

COMPILER = shutil.which("gcc") or shutil.which("cc")


def build(into: Path, flags: Sequence[str], names: Sequence[str] = LIBRARIES, sources: Path = FOLDER) -> None:
    """Builds the libraries of these names from `sources` into a folder that BARRIER_ORDERS_KERNELS can name.

    Raises RuntimeError without a compiler or with what it says.
    """
    if COMPILER is None:
        raise RuntimeError("no C compiler: install gcc")
    for name in names:
        command = [COMPILER, "-std=c11", "-Wall", "-shared", "-fPIC", *flags]
        done = subprocess.run(
            [*command, "-o", str(into / f"_{name}.so"), str(sources / f"{name}.c")],
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(f"{name}.c does not build: {done.stderr}")

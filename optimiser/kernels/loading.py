"""Loads a compiled kernel with ctypes."""

from __future__ import annotations

import ctypes
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent


@cache
def load_kernel(name: str) -> ctypes.CDLL:
    """The shared library built from `<name>.c` in this folder.

    Raises RuntimeError with the mend when it has not been built.
    """
    built = sorted(FOLDER.glob(f"_{name}.*.so")) + sorted(FOLDER.glob(f"_{name}.so"))
    if not built:
        raise RuntimeError(
            f"the compiled kernel '{name}' is missing: run `make run` (or `pip install -e .`), which builds it"
        )
    return ctypes.CDLL(str(built[0]))

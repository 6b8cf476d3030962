"""Finds the compiled kernels, or says that their references stand in.

The environment variable BARRIER_ORDERS_KERNELS chooses:

- not set: the compiled kernels where they are built; otherwise the references, with one warning;
- `compiled`: the compiled kernels, and an error where they are not built;
- `reference`: the references, which give the same results, slower;
- a folder: the libraries built there, and an error where one is missing (tests of other builds).
"""

from __future__ import annotations

import ctypes
import os
import warnings
from functools import cache
from pathlib import Path

VARIABLE = "BARRIER_ORDERS_KERNELS"
FOLDER = Path(__file__).parent
LIBRARIES = ("cutting", "joints", "joint_bound", "draws", "rearranging")
_SUFFIXES = (".so", ".dll", ".dylib")
_BUILD = "`python -m optimiser.kernels.building` builds them and needs only a C compiler"


class KernelsNotCompiled(RuntimeWarning):
    """The readable references run in place of the compiled kernels: the same results, many times slower."""


@cache
def compiled_library(name: str) -> ctypes.CDLL | None:
    """The library built from `<name>.c`, or None where the reference stands in.

    Raises RuntimeError with the fix where the environment variable asks for a library that is not there.
    """
    return _chosen().get(name)


def compiled_libraries() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The names of the libraries that run, and of those that their references stand in for; without a warning."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", KernelsNotCompiled)
        there = _chosen()
    return tuple(there), tuple(name for name in LIBRARIES if name not in there)


@cache
def _chosen() -> dict[str, ctypes.CDLL]:
    choice = os.environ.get(VARIABLE, "")
    if choice == "reference":
        return {}
    if choice not in ("", "compiled") and not Path(choice).is_dir():
        raise RuntimeError(
            f"{VARIABLE} is '{choice}': it may be 'compiled', 'reference' or a folder of libraries"
        )
    folder = FOLDER if choice in ("", "compiled") else Path(choice)
    libraries, missing = {}, []
    for name in LIBRARIES:
        try:
            libraries[name] = _load(folder, name)
        except OSError as reason:
            missing.append(f"'{name}' ({reason})")
    if missing and choice:
        raise RuntimeError(f"compiled kernels are missing: {', '.join(missing)}; {_BUILD}")
    if missing:
        warnings.warn(
            f"compiled kernels are missing: {', '.join(missing)}. Plans are the same and take 60 to 200 times longer:"
            " minutes for a small building, half an hour for one of 14 levels; where a time limit stops a search it"
            f" has come less far. {_BUILD}",
            KernelsNotCompiled,
            stacklevel=2,
        )
    return libraries


def _load(folder: Path, name: str) -> ctypes.CDLL:
    """Raises OSError where there is no library, or none for this machine."""
    built = [path for suffix in _SUFFIXES if (path := folder / f"_{name}{suffix}").exists()]
    if not built:
        raise OSError("not built")
    return ctypes.CDLL(str(built[0]))

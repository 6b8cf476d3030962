"""A benchmark of hours in parts: what each showed is kept, so that a run that was broken off goes on where it was."""

from __future__ import annotations

import pickle
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from benchmarks.comparison import Comparison
from benchmarks.measuring import Measurement
from benchmarks.verdicts import Verdict


@dataclass(frozen=True)
class Part:
    """What a group or a section showed, at which commit and in how many seconds; `measurements` of a group's cases."""

    name: str
    commit: str = ""
    seconds: float = 0.0
    measurements: tuple[Measurement, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    failures: dict[str, str] = field(default_factory=dict)
    unavailable: str = ""
    """Why its instances could not be had; then it is not kept."""


def kept_or_measured(
    name: str, folder: Path | None, measured: Callable[[], Part], *, only_kept: bool = False
) -> Part:
    """A part as it is kept in a folder, or measured and kept there; without a folder, measured. With `only_kept` one
    that is not there is empty."""
    if folder is None:
        return measured()
    file = folder / (re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") + ".part")
    if file.exists():
        kept: Part = pickle.loads(file.read_bytes())
        if kept.name == name:
            return kept
    if only_kept:
        return Part(name)
    part = measured()
    if part.unavailable:
        return part
    folder.mkdir(parents=True, exist_ok=True)
    partial = file.with_suffix(".partial")
    partial.write_bytes(pickle.dumps(part))
    partial.replace(file)
    return part

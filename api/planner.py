"""The one seam between the service and the optimiser: each function runs in a limited process.

Everything that crosses is text, bytes or plain dictionaries, so that nothing of the optimiser is imported by
the process that serves, and a fault of the input keeps its place and its mend.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

Progress = Callable[[dict[str, Any]], None]


class Unusable(Exception):  # noqa: N818
    """The input cannot be used: `faults` lists every fault with its place, message and mend."""

    def __init__(self, faults: list[dict[str, Any]]) -> None:
        super().__init__(faults)
        self.faults = faults


class Unreadable(Exception):  # noqa: N818
    """The body is no JSON at all; the message says where it breaks."""


class CannotBePlanned(Exception):  # noqa: N818
    """The project is well formed but cannot be planned; the message says why."""


class NotOffered(Exception):  # noqa: N818
    """This build of the optimiser lacks what was asked for; the message names it."""


@dataclass(frozen=True)
class Upload:
    """A project as it came in: `kind` is 'json' or 'files', `files` the names and contents."""

    kind: str
    files: Mapping[str, bytes]


@dataclass(frozen=True)
class Planned:
    """A plan as JSON text, what the judge found broken in it, and the figures a list shows."""

    plan: str
    broken_rules: tuple[str, ...]
    summary: dict[str, Any]


def project_text(project: Any) -> str:
    """A project as the JSON of the contract."""
    return str(project.model_dump_json(by_alias=True, exclude_unset=True))

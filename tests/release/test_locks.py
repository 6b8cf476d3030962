"""The locks agree: what is tested is what is installed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def _versions(lock: str) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for name, version in re.findall(
        r"^([A-Za-z0-9._-]+)==([^\s;]+)", (ROOT / lock).read_text(), re.MULTILINE
    ):
        found.setdefault(name, set()).add(version)
    return found


@pytest.mark.parametrize("lock", ["requirements-test.lock", "requirements-wheels.lock"])
def test_whatever_the_tool_runs_with_has_the_same_version_in_the_other_locks(lock: str) -> None:
    """A tool of the tests once asked for an older library of the command line, and took options away from it."""
    runs_with, other = _versions("requirements.lock"), _versions(lock)
    assert {name: (versions, other[name]) for name, versions in runs_with.items() if name in other} == {
        name: (versions, versions) for name, versions in runs_with.items() if name in other
    }
    if lock == "requirements-test.lock":
        assert runs_with.keys() <= other.keys()

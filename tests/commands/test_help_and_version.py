"""What the command says of itself: its version and what is inside, its exit codes, its names for the shell."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from optimiser.commands.main import COMMANDS, run
from optimiser.kernels.loading import LIBRARIES, VARIABLE

BY_ITSELF = "from optimiser.commands.main import main; main()"


def said(*words: str, **environment: str) -> str:
    """What the command prints in a process of its own."""
    command = [sys.executable, "-c", BY_ITSELF, *words]
    env = {**os.environ, **environment}
    return subprocess.run(command, env=env, capture_output=True, text=True, check=True, timeout=60).stdout


def test_the_version_names_python_the_kernels_the_solvers_and_the_service() -> None:
    lines = said("--version", **{VARIABLE: "compiled"}).splitlines()
    assert lines[0].startswith("barrier-orders ")
    assert lines[1].startswith(f"Python {sys.version.split()[0]} on ")
    assert lines[2] == f"kernels: compiled ({', '.join(LIBRARIES)})"
    assert "ortools " in lines[3]
    assert "highspy " in lines[3]
    assert lines[4].startswith("service: fastapi ")


def test_the_version_says_where_references_stand_in() -> None:
    assert "references stand in for cutting" in said("--version", **{VARIABLE: "reference"})


@pytest.mark.parametrize("command", [None, *COMMANDS])
def test_each_help_gives_the_exit_codes(command: str | None, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*([command] if command else []), "--help"]) == 0
    assert "1 a rule is broken or the job cannot be done" in " ".join(capsys.readouterr().out.split())


@pytest.mark.slow
def test_a_shell_is_told_the_commands_and_their_options() -> None:
    asked = {"_BARRIER_ORDERS_COMPLETE": "complete_bash"}
    assert said(COMP_WORDS="barrier-orders pl", COMP_CWORD="1", **asked).split() == ["plan"]
    options = said(COMP_WORDS="barrier-orders plan --st", COMP_CWORD="2", **asked)
    assert options.split() == ["--staging"]

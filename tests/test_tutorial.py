"""The tutorial notebook runs from its first cell to its last, and shows what it says."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any
from unittest.mock import patch

import nbformat
import pytest
from nbclient import NotebookClient

ROOT = Path(__file__).parent.parent
NOTEBOOK = ROOT / "sample_orders" / "tutorial.ipynb"


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Any, Path]:
    """The notebook as executed beside the samples, and the folder in which it ran."""
    folder = tmp_path_factory.mktemp("tutorial")
    for name in ("tower", "small", "faulty"):
        (folder / name).symlink_to(ROOT / "sample_orders" / name)
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    client = NotebookClient(notebook, timeout=120, resources={"metadata": {"path": str(folder)}})
    own = {"PYTHONPATH": str(ROOT), "IPYTHONDIR": str(folder / "ipython")}
    with patch.dict(os.environ, own):
        client.execute()
    return notebook, folder


def shown(notebook: Any, beginning: str) -> str:
    """What the cell that begins so printed or returned."""
    (cell,) = (cell for cell in notebook.cells if cell.source.startswith(beginning))
    return "".join(
        output.get("text", "") or output.get("data", {}).get("text/plain", "") for output in cell.outputs
    )


def test_it_is_stored_without_outputs() -> None:
    for cell in nbformat.read(NOTEBOOK, as_version=4).cells:
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


def test_it_says_that_its_buildings_are_invented_and_who_decides() -> None:
    first = nbformat.read(NOTEBOOK, as_version=4).cells[0].source
    assert "**invented**" in first
    assert "licensed practitioner decide" in " ".join(first.split())


def test_the_judge_finds_nothing_in_the_plan_and_something_in_the_spoilt_one(run: tuple[Any, Path]) -> None:
    notebook, _ = run
    assert shown(notebook, "check(made, tower)") == "()"
    assert "broken rules" in shown(notebook, "narrow = ")
    assert not shown(notebook, "narrow = ").startswith("0 ")


def test_every_cell_shows_what_it_promises(run: tuple[Any, Path]) -> None:
    notebook, _ = run
    assert "14 levels, 56 runs" in shown(notebook, "tower = read(")
    assert "boards, " in shown(notebook, "print(repr(made))")
    assert "cut_width_start_mm" in shown(notebook, "pieces = ")
    assert "fewest boards at 150 mm" in shown(notebook, "gaps = compare(")
    assert "draws are covered whole" in shown(notebook, "orders = ")
    assert "re-used" in shown(notebook, "made_small = ")


def test_the_files_are_written(run: tuple[Any, Path]) -> None:
    _, folder = run
    assert {"order.xlsx", "order.pdf", "cutting-sheets.pdf", "plan.json", "gaps.csv", "gaps.svg"} <= {
        path.name for path in (folder / "out").iterdir()
    }

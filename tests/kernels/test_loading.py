"""Which kernels run: the compiled ones where they are built, else the references; and the same plan by both."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from optimiser.kernels.loading import FOLDER, VARIABLE
from optimiser.model.plan import Plan
from optimiser.model.project import Gap, Run
from tests.builders.levels import building, weekly
from tests.builders.small_plan import small_project

# prints the plan of a small project without what a clock says; planned in a process of its own, so that the choice
# is made afresh
PLAN = """
import sys
from pathlib import Path
from optimiser.planning.plan import plan
from optimiser.reading import read_project
from optimiser.kernels.loading import compiled_library
made = plan(read_project(Path(sys.argv[1])))
proofs = [proof.model_copy(update={"solve_seconds": 0.0}) for proof in made.proofs]
print(made.model_copy(update={"proofs": tuple(proofs)}).model_dump_json())
print("compiled" if compiled_library("joints") else "reference", file=sys.stderr)
"""
WHICH = """
from optimiser.kernels.loading import LIBRARIES, compiled_library
print(*["compiled" if compiled_library(name) else "reference" for name in LIBRARIES * 2])
"""


def run(code: str, *arguments: str, kernels: str | None, root: Path) -> subprocess.CompletedProcess[str]:
    environment = {name: value for name, value in os.environ.items() if name != VARIABLE}
    environment |= {"PYTHONPATH": str(root)} | ({} if kernels is None else {VARIABLE: kernels})
    command = [sys.executable, "-c", code, *arguments]
    return subprocess.run(
        command, env=environment, cwd=root, capture_output=True, text=True, check=False, timeout=300
    )


@pytest.fixture
def root(pytestconfig: pytest.Config) -> Path:
    return pytestconfig.rootpath


@pytest.fixture
def unbuilt(tmp_path: Path, root: Path) -> Path:
    """The kernels' package by itself, without its libraries."""
    (tmp_path / "optimiser").mkdir()
    (tmp_path / "optimiser" / "__init__.py").touch()
    without = shutil.ignore_patterns("*.so", "*.dll", "*.dylib", "__pycache__")
    shutil.copytree(FOLDER, tmp_path / "optimiser" / "kernels", ignore=without)
    return tmp_path


def test_a_small_plan_is_equal_by_the_compiled_kernels_and_by_the_references(
    root: Path, tmp_path: Path
) -> None:
    """A measured house: three hundred draws of a nominal level take the references minutes."""
    small = str(tmp_path / "house.json")
    Path(small).write_text(small_project().model_dump_json(by_alias=True, exclude_unset=True))
    compiled = run(PLAN, small, kernels="compiled", root=root)
    reference = run(PLAN, small, kernels="reference", root=root)
    assert (compiled.stderr, reference.stderr) == ("compiled\n", "reference\n")
    assert len(compiled.stdout) > 2_000
    assert compiled.stdout == reference.stdout


def test_a_plan_in_which_pieces_wait_is_equal_by_the_compiled_kernels_and_by_the_references(
    root: Path, tmp_path: Path
) -> None:
    """Three levels of two edges, a level a week: pieces that share strips, boards for several levels, some 50,000 steps
    to rearrange them."""
    gaps = {
        ("L1", "N"): 110,
        ("L1", "S"): 130,
        ("L2", "N"): 95,
        ("L2", "S"): 200,
        ("L3", "N"): 150,
        ("L3", "S"): 150,
    }
    waiting = building(
        levels=weekly(storeys=3).levels,
        runs=tuple(
            Run(run=f"{level}-{edge}", level=level, length_mm=1800, board=("B-120",)) for level, edge in gaps
        ),
        gaps=tuple(Gap(run=f"{level}-{edge}", at_mm=0, gap_mm=gap) for (level, edge), gap in gaps.items()),
    )
    at = str(tmp_path / "waiting.json")
    Path(at).write_text(waiting.model_dump_json(by_alias=True, exclude_unset=True))
    compiled = run(PLAN, at, kernels="compiled", root=root)
    reference = run(PLAN, at, kernels="reference", root=root)
    assert (compiled.stderr, reference.stderr) == ("compiled\n", "reference\n")
    assert compiled.stdout == reference.stdout
    assert Plan.model_validate_json(compiled.stdout).waiting.piece_stages > 0


def test_where_none_is_built_the_references_run_and_that_is_said_once(unbuilt: Path) -> None:
    done = run(WHICH, kernels=None, root=unbuilt)
    assert done.stdout.split() == ["reference"] * 10
    assert done.stderr.count("KernelsNotCompiled") == 1
    for words in (
        "'cutting' (not built)",
        "'draws' (not built)",
        "Plans are the same and take 60 to 200 times longer",
        "where a time limit stops a search",
        "optimiser.kernels.building",
    ):
        assert words in done.stderr


def test_a_library_that_cannot_be_loaded_is_as_good_as_none(unbuilt: Path) -> None:
    (unbuilt / "optimiser" / "kernels" / "_joints.so").write_text("for another machine")
    done = run(WHICH, kernels=None, root=unbuilt)
    assert done.stdout.split() == ["reference"] * 10
    assert "'joints' (" in done.stderr


def test_asked_for_compiled_kernels_it_does_not_do_without(unbuilt: Path) -> None:
    done = run(WHICH, kernels="compiled", root=unbuilt)
    assert done.returncode != 0
    assert "RuntimeError: compiled kernels are missing: 'cutting' (not built)" in done.stderr


def test_references_asked_for_need_no_warning(root: Path) -> None:
    done = run(WHICH, kernels="reference", root=root)
    assert (done.stdout.split(), done.stderr) == (["reference"] * 10, "")


def test_a_folder_of_other_builds_may_be_named(unbuilt: Path) -> None:
    for built in FOLDER.glob("_*.so"):
        shutil.copy(built, unbuilt)
    done = run(WHICH, kernels=str(unbuilt), root=unbuilt)
    assert (done.stdout.split(), done.stderr) == (["compiled"] * 10, "")
    (unbuilt / next(FOLDER.glob("_draws.*")).name).unlink()
    assert "missing: 'draws' (not built)" in run(WHICH, kernels=str(unbuilt), root=unbuilt).stderr


def test_a_word_that_is_none_of_these_is_refused(root: Path) -> None:
    done = run(WHICH, kernels="refrence", root=root)
    assert f"{VARIABLE} is 'refrence': it may be 'compiled', 'reference' or a folder" in done.stderr

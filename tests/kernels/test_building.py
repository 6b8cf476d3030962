"""The kernels are compiled by the machine's own compiler, or by one from the package index for any platform."""

from __future__ import annotations

import ctypes
import importlib.util
from pathlib import Path

import pytest

from optimiser.kernels import building
from optimiser.kernels.building import KERNELS, PLATFORMS, compiler, main, own_suffix
from optimiser.kernels.loading import LIBRARIES


def test_every_kernel_that_is_looked_for_is_compiled() -> None:
    assert set(KERNELS) == set(LIBRARIES)
    assert set(KERNELS) == {source.stem for source in building.FOLDER.glob("*.c")}


@pytest.mark.skipif(compiler() is None, reason="needs a C compiler")
def test_the_machines_own_compiler_makes_libraries_that_load(tmp_path: Path) -> None:
    assert main(["--into", str(tmp_path)]) == 0
    built = sorted(path.name for path in tmp_path.iterdir())
    assert built == sorted(f"_{name}{own_suffix()}" for name in KERNELS)
    for name in built:
        ctypes.CDLL(str(tmp_path / name))


def test_without_any_compiler_it_is_said_that_the_references_stand_in(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(building, "compiler", lambda: None)
    assert main(["--into", str(tmp_path)]) == 1
    assert "references stand in" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(importlib.util.find_spec("ziglang") is not None, reason="the package is installed")
def test_another_platform_needs_the_compiler_that_makes_them(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert main(["--for", "win_amd64", "--into", str(tmp_path)]) == 1
    assert "ziglang" in capsys.readouterr().err


def test_a_library_holds_no_path_of_the_machine_that_made_it() -> None:
    macs = [platform for platform in PLATFORMS if platform.suffix == ".dylib"]
    assert len(macs) == 2
    for platform in macs:
        assert platform.flags_for("_joints.dylib")[-2:] == ("-install_name", "@rpath/_joints.dylib")

"""A folder's files, all of them or none of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimiser.writing.file_names import FILES
from optimiser.writing.whole_folder import all_or_nothing


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_old_files_of_the_set_go_with_it(tmp_path: Path) -> None:
    for name in ("order.ubl.xml", "order.csv", "notes.txt"):
        (tmp_path / name).write_text("old")
    with all_or_nothing(tmp_path, FILES) as unfinished:
        (unfinished / "order.csv").write_text("new")
    assert names(tmp_path) == {"notes.txt", "order.csv"}


def test_a_new_folder_appears_whole_and_readable(tmp_path: Path) -> None:
    with all_or_nothing(tmp_path / "a" / "b") as unfinished:
        (unfinished / "plan.json").write_text("new")
        assert not (tmp_path / "a" / "b").exists()
    assert names(tmp_path / "a" / "b") == {"plan.json"}
    assert names(tmp_path / "a") == {"b"}
    assert (tmp_path / "a" / "b").stat().st_mode & 0o500 == 0o500


@pytest.mark.parametrize(
    "failure", [OSError(28, "No space left on device"), KeyboardInterrupt(), ValueError()]
)
def test_a_failure_leaves_everything_as_it_was(tmp_path: Path, failure: BaseException) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "plan.json").write_text("old")
    with pytest.raises(type(failure)):
        write_half(out, failure)
    assert names(out) == {"plan.json"}
    assert (out / "plan.json").read_text() == "old"
    with pytest.raises(type(failure)):
        write_half(tmp_path / "x" / "y", failure)
    assert names(tmp_path) == {"out"}


def write_half(folder: Path, failure: BaseException) -> None:
    with all_or_nothing(folder) as unfinished:
        (unfinished / "plan.json").write_text("half")
        raise failure


def test_files_of_others_stay(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with all_or_nothing(tmp_path) as unfinished:
        (unfinished / "order.csv").write_text("new")
    assert names(tmp_path) == {"notes.txt", "order.csv"}


def test_a_file_in_the_way_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(NotADirectoryError, match="is a file"), all_or_nothing(tmp_path / "out"):
        pass

"""All the files of an order or none of them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from optimiser.writing.all_files import write_all
from optimiser.writing.file_names import FILES
from optimiser.writing.whole_file import write_whole
from tests.builders.small_plan import small_plan


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_every_file_is_written(tmp_path: Path) -> None:
    write_all(small_plan(), tmp_path)
    assert names(tmp_path) == set(FILES)
    assert (tmp_path / "cutting-sheets.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "order.pdf").read_bytes().startswith(b"%PDF")


def test_an_order_of_nothing_has_every_file_but_the_ubl(tmp_path: Path) -> None:
    plan = small_plan()
    lines = tuple(line.model_copy(update={"packs": 0, "amount": 0}) for line in plan.order.lines)
    nothing = plan.model_copy(update={"order": plan.order.model_copy(update={"lines": lines})})
    assert set(write_all(nothing, tmp_path)) == names(tmp_path) == set(FILES) - {"order.ubl.xml"}


def test_the_day_of_issue_is_the_callers(tmp_path: Path) -> None:
    write_all(small_plan(), tmp_path, issued_on=date(2027, 1, 5))
    assert b"<cbc:IssueDate>2027-01-05<" in (tmp_path / "order.ubl.xml").read_bytes()


def test_labels_are_always_written_and_in_either_order(tmp_path: Path) -> None:
    assert set(write_all(small_plan(), tmp_path, label_order="run")) == set(FILES) == names(tmp_path)


def test_a_file_that_cannot_be_written_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "file"
    path.write_bytes(b"old")

    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(OSError, match="no space left"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_that_cannot_be_written_is_told_by_its_own_name(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError) as failure:
        write_whole(tmp_path / "missing" / "record.jsonl", b"")
    assert failure.value.filename == str(tmp_path / "missing" / "record.jsonl")


def test_a_paper_that_there_is_not_is_told_with_those_that_there_are(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="paper 'A5' is not known: choose A4 or Letter"):
        write_all(small_plan(), tmp_path, paper="A5")

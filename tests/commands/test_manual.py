"""The manual has a page for each command, with the words of its `--help` and nothing else."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from optimiser.commands.main import COMMANDS, run
from optimiser.commands.manual import manual_pages

ESCAPED = {"\\-": "-", "\\(aq": "'", "\\(ga": "`", "\\(dq": '"', "\\(ha": "^", "\\(ti": "~", "\\e": "\\"}


def sections(page: str) -> dict[str, list[str]]:
    """A page's lines by the heading that they stand under, as a reader sees them: no macros, no escapes."""
    found: dict[str, list[str]] = {}
    for line in page.splitlines():
        macro, _, rest = line.partition(" ")
        if macro == ".SH":
            found[rest] = []
        elif (found and macro in (".B", ".BR")) or not line.startswith("."):
            text = rest if line.startswith(".") else line.removeprefix("\\&")
            for written, meant in ESCAPED.items():
                text = text.replace(written, meant)
            found[list(found)[-1]].append(text)
    return found


def in_one_line(text: str) -> str:
    return " ".join(text.split())


def help_of(command: str | None, capsys: pytest.CaptureFixture[str]) -> str:
    """What `--help` prints."""
    capsys.readouterr()
    assert run([*([command] if command else []), "--help"]) == 0
    return capsys.readouterr().out


def page_of(command: str | None) -> dict[str, list[str]]:
    return sections(manual_pages()["barrier-orders" + (f"-{command}" if command else "") + ".1"])


def test_there_is_a_page_for_the_command_line_and_one_for_each_command() -> None:
    assert [*manual_pages()] == ["barrier-orders.1", *(f"barrier-orders-{name}.1" for name in COMMANDS)]


@pytest.mark.parametrize("command", [None, *COMMANDS])
def test_a_page_says_what_help_says(command: str | None, capsys: pytest.CaptureFixture[str]) -> None:
    told, page = help_of(command, capsys), page_of(command)
    beginning = re.split(r"\n(?:Arguments|Options):\n", told)[0]
    assert in_one_line(" ".join([*page["SYNOPSIS"], *page["DESCRIPTION"]])) == in_one_line(
        beginning
    ).removeprefix("Usage: ")
    rows = [*page.get("ARGUMENTS", []), *page["OPTIONS"]]
    for named, says in zip(rows[::2], rows[1::2], strict=True):
        assert f"{named} {says}" in in_one_line(told)
    options = re.findall(r"^  (--?\w[\w-]*)", told.partition("\nOptions:\n")[2], re.MULTILINE)
    assert [named.split()[0].rstrip(",") for named in page["OPTIONS"][::2]] == options
    codes = [f"{code} {means}" for code, means in zip(*[iter(page["EXIT STATUS"])] * 2, strict=True)]
    assert f"Exit codes: {'; '.join(codes)}." in in_one_line(told)


@pytest.mark.slow
def test_the_first_page_names_every_command_with_its_first_words(capsys: pytest.CaptureFixture[str]) -> None:
    rows = page_of(None)["COMMANDS"]
    assert rows[::2] == [f"barrier-orders-{name} (1)" for name in COMMANDS]
    for name, says in zip(COMMANDS, rows[1::2], strict=True):
        assert says in in_one_line(help_of(name, capsys))


@pytest.mark.slow
def test_the_command_prints_help_or_the_page(capsys: pytest.CaptureFixture[str]) -> None:
    told = help_of("check", capsys)
    assert run(["help", "check"]) == 0
    assert capsys.readouterr().out == told
    assert run(["help", "check", "--man"]) == 0
    assert capsys.readouterr().out == manual_pages()["barrier-orders-check.1"]
    assert run(["help", "--man"]) == 0
    assert capsys.readouterr().out == manual_pages()["barrier-orders.1"]
    assert run(["help", "cheque"]) == 2
    assert "there is no command cheque; there is plan, cut, check" in in_one_line(capsys.readouterr().err)


@pytest.mark.skipif(not shutil.which("groff"), reason="groff, which sets pages of the manual, is not here")
def test_groff_sets_every_page_without_a_complaint(tmp_path: Path) -> None:
    for name, page in manual_pages().items():
        (tmp_path / name).write_text(page, encoding="utf-8")
    files = sorted(map(str, tmp_path.iterdir()))
    done = subprocess.run(
        ["groff", "-man", "-ww", "-Kutf8", "-Tutf8", *files], capture_output=True, check=True, timeout=60
    )
    assert done.stderr == b""
    shown = re.sub("[^\n]\b", "", done.stdout.decode())  # bold is struck twice
    assert "barrier-orders plan [OPTIONS] {PROJECT}" in shown

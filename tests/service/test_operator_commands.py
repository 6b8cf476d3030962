"""`verify`, `backup` and `restore` as an operator calls them: lines, exit codes, a sentence for what cannot be done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest

from api.settings import Settings
from optimiser.commands.main import run
from tests.service.issued_places import IssuedPlace

Command = Callable[..., tuple[int, list[str], str]]


@pytest.fixture
def command(
    issued_copy: IssuedPlace, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Command:
    """Runs a command on the copy, or with other settings: its exit code, lines and errors."""
    mine = {
        "DATABASE_URL": issued_copy.settings.database_url,
        "BARRIER_ORDERS_ANCHOR_FILE": issued_copy.settings.anchor_file,
        "BARRIER_ORDERS_SIGNING_KEY_FILE": issued_copy.settings.signing_key_file,
    }

    def called(*arguments: str, **others: str) -> tuple[int, list[str], str]:
        for name, value in {**mine, **others}.items():
            monkeypatch.setenv(name, value)
        capsys.readouterr()
        code = run(list(arguments))
        said = capsys.readouterr()
        return (
            code,
            said.out.splitlines(),
            said.err,
        )

    return called


def test_verify_says_that_all_is_well_or_each_finding_on_a_line_until_it_is_acknowledged(
    command: Command, issued_copy: IssuedPlace
) -> None:
    code, lines, _ = command("verify")
    assert code == 0
    assert len(lines) == 1
    assert lines[0].startswith("2 issued orders with ")
    assert lines[0].endswith(" documents are what was issued")
    issued_copy.meddle("UPDATE issued_orders SET issued_by = 'x'")
    code, lines, _ = command("verify")
    assert (code, len(lines)) == (1, 2)
    assert all(line.startswith(f"Revision {n} of ") for n, line in enumerate(lines, 1))
    code, lines, _ = command("verify", "--acknowledge", " A. Operator ")
    assert code == 0
    assert [line.startswith("acknowledged by A. Operator: Revision") for line in lines[:2]] == [True, True]
    code, lines, _ = command("verify")
    assert code == 0
    assert all("(acknowledged by A. Operator on " in line for line in lines[:2])
    assert lines[2].endswith("are what was issued besides what is acknowledged")
    assert command("verify", "--acknowledge", " ")[0] == 2


def test_backup_and_restore_say_what_they_did(
    command: Command, issued_copy: IssuedPlace, tmp_path: Path
) -> None:
    file = tmp_path / "all.backup"
    code, lines, _ = command("backup", str(file))
    assert code == 0
    assert "1 project, 2 issued orders with" in lines[0]
    assert "not in it: the signing key" in lines[1]
    code, _, error = command("backup", str(file))
    assert (code, error) == (1, f"There is a file {file} already; name a new one.\n")
    code, _, error = command("restore", str(file))
    assert code == 1
    assert "into an empty place only" in error
    elsewhere = {
        "DATABASE_URL": f"sqlite:///{tmp_path}/new.sqlite",
        "BARRIER_ORDERS_ANCHOR_FILE": f"{tmp_path}/new.anchor",
        "BARRIER_ORDERS_SIGNING_KEY_FILE": f"{tmp_path}/new.key",
    }
    code, lines, _ = command("restore", str(file), **elsewhere)
    assert code == 0
    assert lines[0].startswith("the backup of ")
    assert lines[1].startswith("2 issued orders with ")
    assert command("verify", **elsewhere)[0] == 0
    new = {name: value.replace("new.", "other.") for name, value in elsewhere.items()}
    (tmp_path / "none.backup").write_bytes(b"PK")
    code, _, error = command("restore", str(tmp_path / "none.backup"), **new)
    assert (code, error.count("\n")) == (2, 1)
    code, _, error = command("verify", **new)
    assert (code, error) == (
        1,
        f"There is no database file {tmp_path}/other.sqlite: name it with DATABASE_URL.\n",
    )
    assert not (tmp_path / "other.sqlite").exists()


def test_where_key_and_anchor_are_is_a_typed_setting_beside_the_database_unless_it_is_set(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", "/state")
    embedded = Settings(database_url="sqlite:////data/orders.sqlite")
    assert str(embedded.anchor_path) == "/data/orders.sqlite.anchor"
    assert str(embedded.signing_key_path) == "/data/orders.sqlite.signing-key"
    server = Settings(
        database_url="postgresql+psycopg://u:p@db:5433/orders", signing_key_file="/run/secrets/key"
    )
    assert str(server.anchor_path) == "/state/barrier-orders/db-5433-orders.anchor"
    assert str(server.signing_key_path) == "/run/secrets/key"
    assert {"signing_key_file", "anchor_file", "verify_minutes"} <= {field.name for field in fields(Settings)}

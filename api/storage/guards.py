"""Whether the triggers that keep rows as they were written still stand, and putting them back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import sqlalchemy as sa

from api.storage.tables import IMMUTABLE


def message_of(table: str) -> str:
    """What the database says when a row of such a table is to be altered."""
    return f"rows of {table} are never altered or deleted"


def statements_for(dialect: str, table: str) -> dict[str, tuple[str, ...]]:
    """By the name of a trigger, the statements that make it."""
    message = message_of(table)
    if dialect == "sqlite":
        return {
            f"{table}_no_{action.lower()}": (
                f"CREATE TRIGGER {table}_no_{action.lower()} BEFORE {action} ON {table}"
                f" BEGIN SELECT RAISE(ABORT, '{message}'); END",
            )
            for action in ("UPDATE", "DELETE")
        }
    function = (
        f"CREATE OR REPLACE FUNCTION {table}_keep() RETURNS trigger LANGUAGE plpgsql AS"
        f" $$ BEGIN RAISE EXCEPTION '{message}'; END $$"
    )
    kept = f" EXECUTE FUNCTION {table}_keep()"
    return {
        f"{table}_keep": (
            function,
            f"CREATE TRIGGER {table}_keep BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW{kept}",
        ),
        f"{table}_keep_all": (
            function,
            f"CREATE TRIGGER {table}_keep_all BEFORE TRUNCATE ON {table} FOR EACH STATEMENT{kept}",
        ),
    }


def dropped_guards(connection: sa.Connection, tables: Iterable[str] = IMMUTABLE) -> dict[str, list[str]]:
    """By table, the triggers that were dropped, switched off or replaced since they were made."""
    standing = _standing(connection)
    dialect = connection.dialect.name
    missing = {
        table: [
            name
            for name, statements in statements_for(dialect, table).items()
            if not _does_its_work(standing.get(name), table, statements[-1], dialect)
        ]
        for table in tables
    }
    return {table: names for table, names in missing.items() if names}


def put_guards_back(connection: sa.Connection, dropped: dict[str, list[str]]) -> None:
    """Makes the triggers again that `dropped_guards` found missing."""
    for table, names in dropped.items():
        for name in names:
            connection.execute(
                sa.text(
                    f"DROP TRIGGER IF EXISTS {name}"
                    + ("" if connection.dialect.name == "sqlite" else f" ON {table}")
                )
            )
            for statement in statements_for(connection.dialect.name, table)[name]:
                connection.exec_driver_sql(statement)


@contextmanager
def lifted(connection: sa.Connection) -> Iterator[None]:
    """The tables without their triggers, for what an operator may take away by law; they stand again at the end. All in
    the connection's transaction: nobody else sees the database without them."""
    for table in IMMUTABLE:
        for name in statements_for(connection.dialect.name, table):
            on_table = "" if connection.dialect.name == "sqlite" else f" ON {table}"
            connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {name}{on_table}")
    yield
    put_guards_back(connection, dropped_guards(connection))


def _standing(connection: sa.Connection) -> dict[str, str]:
    """By the name of a trigger what it does: on SQLite the statement that made it, on PostgreSQL its function's
    body."""
    if connection.dialect.name == "sqlite":
        rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        return {row[0]: row[1] for row in rows}
    rows = connection.exec_driver_sql(
        "SELECT t.tgname, p.prosrc FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid JOIN pg_class c ON"
        " c.oid = t.tgrelid"
        " WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A')"
        " AND c.relnamespace = (SELECT oid FROM pg_namespace WHERE nspname = current_schema())"
    )
    return {row[0]: row[1] for row in rows}


def _does_its_work(found: str | None, table: str, made_by: str, dialect: str) -> bool:
    if found is None:
        return False
    return found == made_by if dialect == "sqlite" else f"RAISE EXCEPTION '{message_of(table)}'" in found

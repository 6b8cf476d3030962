"""Triggers that keep the rows of a table as they were written, on SQLite and PostgreSQL alike."""

from alembic import op

from api.storage.guards import put_guards_back, statements_for


def forbid_changes(table: str) -> None:
    """From now on the database refuses to alter or delete rows of this table."""
    connection = op.get_bind()
    put_guards_back(connection, {table: list(statements_for(connection.dialect.name, table))})

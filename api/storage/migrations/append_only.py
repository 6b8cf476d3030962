"""Triggers that keep the rows of a table as they were written, on SQLite and PostgreSQL alike."""

from alembic import op


def forbid_changes(table: str) -> None:
    """From now on the database refuses to alter or delete rows of this table."""
    message = f"rows of {table} are never altered or deleted"
    if op.get_bind().dialect.name == "sqlite":
        for action in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{action.lower()} BEFORE {action} ON {table}"
                f" BEGIN SELECT RAISE(ABORT, '{message}'); END"
            )
        return
    op.execute(
        f"CREATE FUNCTION {table}_keep() RETURNS trigger LANGUAGE plpgsql AS"
        f" $$ BEGIN RAISE EXCEPTION '{message}'; END $$"
    )
    op.execute(
        f"CREATE TRIGGER {table}_keep BEFORE UPDATE OR DELETE ON {table}"
        f" FOR EACH ROW EXECUTE FUNCTION {table}_keep()"
    )
    op.execute(
        f"CREATE TRIGGER {table}_keep_all BEFORE TRUNCATE ON {table}"
        f" FOR EACH STATEMENT EXECUTE FUNCTION {table}_keep()"
    )

"""Alembic's entry: runs the migrations on the connection that `Storage.upgrade` hands over."""

from alembic import context

from api.storage.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
context.run_migrations()

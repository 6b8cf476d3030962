"""The service, tested as its callers meet it, on SQLite and on PostgreSQL."""

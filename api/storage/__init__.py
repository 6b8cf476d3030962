"""What the service keeps: tables, their migrations, and transactions on SQLite and PostgreSQL alike."""

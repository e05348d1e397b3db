"""The database: tables, migrations and rows."""

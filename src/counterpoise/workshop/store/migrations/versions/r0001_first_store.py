"""The first store: jobs, append-only entries, photos, recordings, settings."""

import sqlalchemy as sa
from alembic import op

# A migration is never edited once released: stores in the field have run it as it stands.
# It says what the tables were then, so it does not import them as they are now.
revision = "0001"
down_revision = None

_REFUSED = "entries are append-only: take one back with a retraction"

_SAY = f"BEGIN SELECT RAISE(ABORT, '{_REFUSED}'); END"
# a row under the same key: what INSERT OR REPLACE would push out
_TAKEN = "EXISTS (SELECT 1 FROM entries WHERE job = NEW.job AND number = NEW.number)"
_SQLITE = (
    f"CREATE TRIGGER entries_no_update BEFORE UPDATE ON entries {_SAY}",
    f"CREATE TRIGGER entries_no_delete BEFORE DELETE ON entries {_SAY}",
    # replacing a row fires no delete trigger in SQLite
    f"CREATE TRIGGER entries_no_replace BEFORE INSERT ON entries WHEN {_TAKEN} {_SAY}",
)
# PostgreSQL wants the refusal as a function of its own
_REFUSE = f"BEGIN RAISE EXCEPTION '{_REFUSED}'; END"
_CALL = "EXECUTE FUNCTION entries_refuse()"
_POSTGRESQL = (
    f"CREATE FUNCTION entries_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ {_REFUSE} $$",
    f"CREATE TRIGGER entries_no_change BEFORE UPDATE OR DELETE ON entries FOR EACH ROW {_CALL}",
    # TRUNCATE fires no trigger of rows
    f"CREATE TRIGGER entries_no_truncate BEFORE TRUNCATE ON entries FOR EACH STATEMENT {_CALL}",
)
# the guards are triggers, so they hold for every program that opens the file
_GUARDS = {"sqlite": _SQLITE, "postgresql": _POSTGRESQL}


def upgrade() -> None:
    """Lay down the tables and the guards of ``entries``."""
    _evidence()
    _files_and_settings()
    for statement in _GUARDS[op.get_context().dialect.name]:
        op.execute(statement)


def _evidence() -> None:
    op.create_table(
        "jobs",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("opened_at", sa.String(32), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_jobs"),
        # without it SQLite gives the number of the last row again once that is gone
        sqlite_autoincrement=True,
    )
    op.create_table(
        "entries",
        sa.Column("job", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("by", sa.String(200), nullable=False),
        sa.Column("kind", sa.String(32), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["job"], ["jobs.number"], name="fk_entries_job_jobs"),
        sa.PrimaryKeyConstraint("job", "number", name="pk_entries"),
    )
    # the list of jobs asks for four of the kinds
    op.create_index("ix_entries_kind", "entries", ["kind"])


def _files_and_settings() -> None:
    op.create_table(
        "photos",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("added_at", sa.String(32), nullable=False),
        # files and evidence in one database: one transaction, one backup
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_photos"),
    )
    op.create_table(
        "recordings",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("added_at", sa.String(32), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_recordings"),
    )
    op.create_table(
        "settings",
        sa.Column("key", sa.String(64), nullable=False),
        # a number, a text, yes or no, a list: each setting as it is
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("changed_at", sa.String(32), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_settings"),
    )

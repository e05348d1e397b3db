"""People who work here, and where they are signed in."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Make room for them; without anybody in it a store is used as before, without signing in."""
    op.create_table(
        "people",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("name", sa.String(40), nullable=False),
        # what two names that are the same to people have in common
        sa.Column("key", sa.String(200), nullable=False),
        sa.Column("role", sa.String(16), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("since", sa.String(32), nullable=False),
        # bytes lie beside the tables of a backup, never in them
        sa.Column("secret", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_people"),
        sa.UniqueConstraint("key", name="uq_people_key"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "sessions",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("person", sa.Integer(), nullable=False),
        sa.Column("device", sa.String(80), nullable=False),
        sa.Column("begun", sa.String(32), nullable=False),
        sa.Column("last_seen", sa.String(32), nullable=False),
        sa.Column("ended", sa.String(16), nullable=False),
        sa.ForeignKeyConstraint(["person"], ["people.number"], name="fk_sessions_person_people"),
        sa.PrimaryKeyConstraint("id", name="pk_sessions"),
    )
    op.create_index("ix_sessions_person", "sessions", ["person"])

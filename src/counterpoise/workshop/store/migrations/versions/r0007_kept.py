"""What an assessment came to is kept with its job, with what it was computed from."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Lay down the table; it may be emptied at any time, so nothing guards it."""
    op.create_table(
        "kept",
        sa.Column("job", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("entry", sa.Integer, nullable=False),
        sa.Column("source", sa.String(64), nullable=False),
        sa.Column("mark", sa.String(64), nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("figures", sa.JSON, nullable=False),
        sa.PrimaryKeyConstraint("job", name="pk_kept"),
        sa.ForeignKeyConstraint(["job"], ["jobs.number"], name="fk_kept_job_jobs"),
    )

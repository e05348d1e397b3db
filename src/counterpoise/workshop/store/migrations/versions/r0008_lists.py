"""A row for the lists of each job; it can be made anew."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Make room for them: the rows of jobs that are there are made when they are first listed."""
    op.create_table(
        "job_lines",
        sa.Column("job", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("family", sa.String(80), nullable=False),
        sa.Column("owner", sa.String(16), nullable=False),
        # lower case, all that a machine is looked for by
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("opened_at", sa.String(32), nullable=False),
        sa.Column("last_at", sa.String(32), nullable=False),
        sa.Column("entries", sa.Integer(), nullable=False),
        sa.Column("decision", sa.String(80), nullable=False),
        sa.Column("ending", sa.String(80), nullable=False),
        sa.Column("promised", sa.String(200), nullable=False),
        sa.Column("parts_due", sa.String(200), nullable=False),
        sa.Column("proof", sa.String(16), nullable=False),
        sa.ForeignKeyConstraint(["job"], ["jobs.number"], name="fk_job_lines_job_jobs"),
        sa.PrimaryKeyConstraint("job", name="pk_job_lines"),
    )
    # the open ones are always asked for, the closed ones page by page
    op.create_index("ix_job_lines_state", "job_lines", ["state", "job"])

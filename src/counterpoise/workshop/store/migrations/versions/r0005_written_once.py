"""Keys of writes: what was sent twice is written once."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make room for the keys; what was written before them has none."""
    op.create_table(
        "writes",
        sa.Column("key", sa.String(100), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        # NULL where no job was written to: settings, prices, the shelf
        sa.Column("job", sa.Integer(), nullable=True),
        sa.Column("entry", sa.Integer(), nullable=True),
        # NULL where the answer is worked out anew from job and entry
        sa.Column("answer", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(["job"], ["jobs.number"], name="fk_writes_job_jobs"),
        sa.PrimaryKeyConstraint("key", name="pk_writes"),
    )
    # the keys of a job go where the job goes
    op.create_index("ix_writes_job", "writes", ["job"])

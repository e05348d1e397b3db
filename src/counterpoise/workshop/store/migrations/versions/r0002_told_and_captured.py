"""What was told of a recording, its sound, and recordings that still come in piece by piece."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add what is told of a recording, and the pieces of those that a phone is still sending."""
    # nullable: of recordings that are there already nobody said anything
    op.add_column("recordings", sa.Column("top_rpm", sa.Float(), nullable=True))
    op.add_column("recordings", sa.Column("sound", sa.String(32), nullable=True))
    op.add_column("recordings", sa.Column("sound_start_s", sa.Float(), nullable=True))
    # beside the recordings: pieces are let go, what is a recording is kept for good
    op.create_table(
        "captures",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("job", sa.Integer(), nullable=False),
        sa.Column("begun_at", sa.String(32), nullable=False),
        sa.Column("recording", sa.String(32), nullable=False),
        sa.ForeignKeyConstraint(["job"], ["jobs.number"], name="fk_captures_job_jobs"),
        sa.PrimaryKeyConstraint("id", name="pk_captures"),
    )
    op.create_table(
        "capture_parts",
        sa.Column("capture", sa.String(32), nullable=False),
        sa.Column("part", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["capture"], ["captures.id"], name="fk_capture_parts_capture_captures"
        ),
        sa.PrimaryKeyConstraint("capture", "part", name="pk_capture_parts"),
    )

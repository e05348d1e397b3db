"""What was learned of closed jobs, and what somebody decided of it."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Make room for what is learned; what is there already is learned from when next asked for."""
    # a result that is computed anew, so it may be replaced
    op.create_table(
        "learned",
        sa.Column("family", sa.String(80), nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("of", sa.String(80), nullable=False),
        sa.Column("key", sa.String(80), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("family", name="pk_learned"),
    )
    op.create_table(
        "learning_decisions",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("by", sa.String(200), nullable=False),
        sa.Column("family", sa.String(80), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("value", sa.String(400), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_learning_decisions"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_learning_decisions_family", "learning_decisions", ["family"])

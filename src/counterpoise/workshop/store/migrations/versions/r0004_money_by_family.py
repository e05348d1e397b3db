"""What a machine is worth belongs to its family: what was set once for all holds for each of them.

Families bring figures of their own from here on, which go before the general settings. A workshop
that had set one of those meant it for the machines it knew: front loaders and top loaders.
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

# as they were called when this was written: a store is brought on from any day
_FAMILIES = ("front_loader", "top_loader")
_NAMES = (
    "new_machine_minor",
    "resale_new_minor",
    "resale_fall_percent",
    "as_is_percent",
    "scrap_minor",
    "comeback_minor",
    "selling_minutes",
    "days_to_sell",
    "life_shape",
    "life_scale_years",
)


def upgrade() -> None:
    """Make room for FAMILY.NAME, and put what was set under each family; the general one stays."""
    # in a batch: SQLite cannot change a column, so the few rows are written anew
    with op.batch_alter_table("settings") as table:
        table.alter_column(
            "key", type_=sa.String(160), existing_type=sa.String(64), existing_nullable=False
        )
    settings = sa.table("settings", sa.column("key"), sa.column("value"), sa.column("changed_at"))
    for family in _FAMILIES:
        of_family = sa.select(
            sa.literal(f"{family}.", sa.String).concat(settings.c.key),
            settings.c.value,
            settings.c.changed_at,
        ).where(settings.c.key.in_(_NAMES))
        op.execute(settings.insert().from_select(["key", "value", "changed_at"], of_family))

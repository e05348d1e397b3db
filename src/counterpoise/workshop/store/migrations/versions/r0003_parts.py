"""Parts: suppliers' prices, pieces in stock and what happened to them; all of it append-only."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

# by which a row would be replaced rather than added
_KEYS = {
    "price_lists": "number = NEW.number",
    "prices": "list = NEW.list AND line = NEW.line",
    "lots": "number = NEW.number",
    "movements": "number = NEW.number",
}
_REFUSED = "{0} are append-only: take one back with another"
# as the sums would be after this movement
_LEFT = "(SELECT COALESCE(SUM({0}), 0) FROM movements WHERE lot = NEW.lot) + NEW.{0}"
# the database's own last word: never fewer pieces than none, never more held than there are
_SHORT = f"""CREATE TRIGGER movements_enough BEFORE INSERT ON movements
WHEN {_LEFT.format("held")} < 0 OR {_LEFT.format("pieces")} < {_LEFT.format("held")}
BEGIN SELECT RAISE(ABORT, 'there are not so many pieces'); END"""


def upgrade() -> None:
    """Lay down the tables and their guards."""
    _prices()
    _shelf()
    for name, same in _KEYS.items():
        for statement in _guards(name, same, op.get_context().dialect.name):
            op.execute(statement)
    # elsewhere the lot's row is locked and its sums are checked
    if op.get_context().dialect.name == "sqlite":
        op.execute(_SHORT)


def _guards(name: str, same: str, dialect: str) -> tuple[str, ...]:
    refused = _REFUSED.format(name)
    if dialect == "postgresql":
        body, call = f"BEGIN RAISE EXCEPTION '{refused}'; END", f"EXECUTE FUNCTION {name}_refuse()"
        trigger = f"CREATE TRIGGER {name}_no"
        return (
            f"CREATE FUNCTION {name}_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ {body} $$",
            f"{trigger}_change BEFORE UPDATE OR DELETE ON {name} FOR EACH ROW {call}",
            f"{trigger}_truncate BEFORE TRUNCATE ON {name} FOR EACH STATEMENT {call}",
        )
    say = f"BEGIN SELECT RAISE(ABORT, '{refused}'); END"
    taken = f"EXISTS (SELECT 1 FROM {name} WHERE {same})"  # noqa: S608  # names of our own
    return (
        f"CREATE TRIGGER {name}_no_update BEFORE UPDATE ON {name} {say}",
        f"CREATE TRIGGER {name}_no_delete BEFORE DELETE ON {name} {say}",
        # the names are of this file, no text of a user's
        # replacing a row fires no delete trigger in SQLite
        f"CREATE TRIGGER {name}_no_replace BEFORE INSERT ON {name} WHEN {taken} {say}",
    )


def _prices() -> None:
    op.create_table(
        "price_lists",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("by", sa.String(200), nullable=False),
        sa.Column("supplier", sa.String(200), nullable=False),
        sa.Column("file", sa.String(200), nullable=False),
        sa.Column("whole", sa.Boolean(), nullable=False),
        sa.Column("left_out", sa.Integer(), nullable=False),
        # a list is taken back by a row of its own: nothing is ever removed
        sa.Column("takes_back", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["takes_back"], ["price_lists.number"], name="fk_price_lists_takes_back_price_lists"
        ),
        sa.PrimaryKeyConstraint("number", name="pk_price_lists"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "prices",
        sa.Column("list", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("line", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("family", sa.String(80), nullable=False),
        sa.Column("part", sa.String(80), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("price_minor", sa.Integer(), nullable=False),
        sa.Column("pack", sa.Integer(), nullable=False),
        # NULL where the list is silent: not the same as at once
        sa.Column("lead_days", sa.Integer(), nullable=True),
        sa.Column("maker", sa.String(200), nullable=False),
        sa.Column("number", sa.String(200), nullable=False),
        sa.Column("description", sa.String(200), nullable=False),
        sa.ForeignKeyConstraint(
            ["list"], ["price_lists.number"], name="fk_prices_list_price_lists"
        ),
        sa.PrimaryKeyConstraint("list", "line", name="pk_prices"),
    )
    # the history of one part is asked for, over all lists
    op.create_index("ix_prices_part", "prices", ["part"])


def _shelf() -> None:
    op.create_table(
        "lots",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("family", sa.String(80), nullable=False),
        sa.Column("item", sa.String(80), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("cost_minor", sa.Integer(), nullable=False),
        sa.Column("asked_minor", sa.Integer(), nullable=True),
        sa.Column("maker", sa.String(200), nullable=False),
        sa.Column("model", sa.String(200), nullable=False),
        # NULL for what was bought
        sa.Column("donor", sa.Integer(), nullable=True),
        # a probability, of used pieces only
        sa.Column("good", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["donor"], ["jobs.number"], name="fk_lots_donor_jobs"),
        sa.PrimaryKeyConstraint("number", name="pk_lots"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_lots_item", "lots", ["item"])
    _movements()


def _movements() -> None:
    op.create_table(
        "movements",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("lot", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("by", sa.String(200), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("held", sa.Integer(), nullable=False),
        sa.Column("job", sa.Integer(), nullable=True),
        sa.Column("entry", sa.Integer(), nullable=True),
        sa.Column("place", sa.String(200), nullable=False),
        sa.Column("note", sa.String(400), nullable=False),
        sa.Column("undoes", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["lot"], ["lots.number"], name="fk_movements_lot_lots"),
        sa.ForeignKeyConstraint(["job"], ["jobs.number"], name="fk_movements_job_jobs"),
        sa.ForeignKeyConstraint(
            ["undoes"], ["movements.number"], name="fk_movements_undoes_movements"
        ),
        # the database itself refuses to undo a movement twice
        sa.UniqueConstraint("undoes", name="uq_movements_undoes"),
        sa.PrimaryKeyConstraint("number", name="pk_movements"),
        sqlite_autoincrement=True,
    )
    # pieces are sums over the movements of a lot
    op.create_index("ix_movements_lot", "movements", ["lot"])
    # what a job holds is let go when it closes
    op.create_index("ix_movements_job", "movements", ["job"])

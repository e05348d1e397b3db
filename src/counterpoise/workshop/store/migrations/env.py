"""Runs the migrations on the connection that the store's engine hands over."""

from alembic import context

from counterpoise.workshop.store.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    # SQLite alters a table by copying it
    render_as_batch=True,
    # the whole upgrade happens, or nothing of it
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()

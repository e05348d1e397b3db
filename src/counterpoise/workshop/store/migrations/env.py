"""Runs the migrations on the connection handed over by :mod:`counterpoise.workshop.store.engine`."""

from alembic import context

from counterpoise.workshop.store.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,  # SQLite alters a table by copying it
    transactional_ddl=True,  # the whole upgrade happens, or nothing of it
)
with context.begin_transaction():
    context.run_migrations()

"""What holds of a store on a PostgreSQL server alone."""

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError
from tests.workshop.small import INTAKE

from counterpoise.errors import StoreError
from counterpoise.workshop.store.store import Store
from counterpoise.workshop.store.tables import Base


def test_migrations_lay_down_what_the_tables_declare(server_store):
    with server_store.database.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []


@pytest.mark.parametrize(
    ("statement", "why"),
    [
        ("UPDATE entries SET by = 'somebody else'", "append-only"),
        ("DELETE FROM entries", "append-only"),
        ("TRUNCATE entries", "append-only"),
        ("DELETE FROM jobs", "foreign key"),
        ("TRUNCATE movements CASCADE", "append-only"),
    ],
)
def test_entries_cannot_be_changed_behind_the_back_of_the_program(server_store, statement, why):
    server_store.jobs.open(INTAKE, by="Ada")
    before = server_store.jobs.get(1)
    # as a writer of the program's own, so that nothing but the guard stands in the way
    with (
        server_store.database.engine.connect().execution_options(writes=True) as raw,
        pytest.raises(DBAPIError, match=why),
    ):
        raw.execute(text(statement))
    assert server_store.jobs.get(1) == before


def test_whoever_only_reads_cannot_write_and_sees_one_state(server_store):
    server_store.jobs.open(INTAKE)
    count = text("SELECT count(*) FROM jobs")
    with server_store.database.reading() as connection:
        assert connection.execute(count).scalar() == 1
        server_store.jobs.open(INTAKE)
        assert connection.execute(count).scalar() == 1
    with pytest.raises(StoreError, match="read-only"), server_store.database.reading() as reader:
        reader.execute(text("DELETE FROM kept"))


def test_what_was_acknowledged_is_on_disk_whatever_the_server_is_set_to(server_store):
    with server_store.database.reading() as connection:
        assert connection.execute(text("SHOW synchronous_commit")).scalar() == "on"


def test_a_number_is_not_lost_where_a_write_is_taken_back(server_store):
    with server_store.writes.under("key", "digest"):  # and never settled
        assert server_store.jobs.open(INTAKE).number == 1
    assert server_store.jobs.open(INTAKE).number == 1


def test_a_database_that_cannot_hold_every_letter_is_refused(server):
    server.sql(
        "CREATE DATABASE narrow ENCODING 'LATIN1' LOCALE_PROVIDER 'libc' LOCALE 'C' TEMPLATE template0"
    )
    with pytest.raises(StoreError, match="not as UTF8"):
        Store(server.address("narrow"))


def test_another_kind_of_database_is_refused():
    with pytest.raises(StoreError, match="cannot be kept in mysql"):
        Store("mysql://odo@localhost/workshop")


def test_a_server_that_does_not_answer_is_said_in_one_line(tmp_path):
    with pytest.raises(StoreError, match="its server does not answer") as caught:
        Store(f"postgresql://odo:secret@/workshop?host={tmp_path}")
    assert "Look whether the server runs" in str(caught.value)
    assert "secret" not in str(caught.value)
    assert "\n" not in str(caught.value)

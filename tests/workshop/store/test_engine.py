import sqlite3
import subprocess
import sys

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateTable
from tests.workshop.small import INTAKE

from counterpoise.errors import StoreError
from counterpoise.workshop.store import engine as opening
from counterpoise.workshop.store import migrations
from counterpoise.workshop.store.store import Store
from counterpoise.workshop.store.tables import Base


def _scripts():
    config = Config()
    config.set_main_option("script_location", migrations.__path__[0])
    config.set_main_option("path_separator", "os")
    return ScriptDirectory.from_config(config)


def test_the_newest_migration_is_the_one_the_program_asks_for():
    assert _scripts().get_current_head() == opening.HEAD


def test_migrations_lay_down_what_the_tables_declare(sqlite_store, tmp_path):
    engine = create_engine(f"sqlite:///{tmp_path / 'workshop.db'}")
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []
    engine.dispose()


def test_the_database_is_opened_to_lose_nothing(sqlite_store):
    with sqlite_store.database.reading() as connection:
        pragmas = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert pragmas == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 20_000,
    }


def test_a_store_of_a_newer_version_is_left_alone(sqlite_store, tmp_path):
    sqlite_store.jobs.open(INTAKE)
    sqlite_store.close()
    with sqlite3.connect(tmp_path / "workshop.db") as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.close()
    with pytest.raises(StoreError, match="newer version"):
        Store(tmp_path / "workshop.db")


_OPEN = """
import sys
from counterpoise.workshop.store.store import Store
from counterpoise.workshop.jobs.entries import Intake
sys.stdin.read(1)
with Store(sys.argv[1]) as store:
    print(store.jobs.open(Intake("small", "workshop", "One", ())).number)
"""


def test_several_processes_may_open_a_new_store_at_once(tmp_path):
    command = [sys.executable, "-c", _OPEN, str(tmp_path / "new" / "workshop.db")]
    started = [
        subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for _ in range(4)
    ]
    for process in started:
        process.stdin.write("x")
        process.stdin.flush()
    numbers = [int(process.communicate(timeout=60)[0]) for process in started]
    assert sorted(numbers) == [1, 2, 3, 4]
    assert [process.returncode for process in started] == [0, 0, 0, 0]


def test_the_tables_can_be_laid_down_in_postgresql():
    for table in Base.metadata.sorted_tables:
        assert table.name in str(CreateTable(table).compile(dialect=postgresql.dialect()))

"""A PostgreSQL server for the tests: started once, in a folder of its own, and gone with them."""

import atexit
import itertools
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path

import psycopg

from counterpoise.workshop.store.store import Store

# Nothing of it outlives the tests, so nothing of it need reach the disk.
_QUICK = {
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "autovacuum": "off",
    "max_connections": "60",
    "shared_buffers": "32MB",
    "listen_addresses": "",
}


def programs():
    """The folder of the server's programs; those of Debian lie beside the path."""
    beside = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=str)
    found = shutil.which("initdb") or (str(beside[-1]) if beside else "")
    if not found:
        raise RuntimeError("PostgreSQL is not installed: apt-get install postgresql, or make test")
    return Path(found).resolve().parent


def _as_somebody():
    """The server refuses to run as root: then it runs as the user its package made, or as nobody."""
    if os.geteuid() != 0:
        return {}
    known = {user.pw_name: user for user in pwd.getpwall()}
    user = known.get("postgres") or known["nobody"]
    return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


class Server:
    """A server on a socket in its own folder; ``database()`` gives the address of a fresh store."""

    def __init__(self):
        # not below pytest's folder: others may not enter that, and a socket's path must be short
        self.folder = Path(tempfile.mkdtemp(prefix="cp-pg-"))
        self._as = _as_somebody()
        if self._as:
            os.chown(self.folder, self._as["user"], self._as["group"])
        self._count = itertools.count(1)
        self._template, self._free = "", []
        self._process = None
        self._run("initdb", "-D", self.data, "-U", "workshop", "-A", "trust", "-E", "UTF8",
                  "--no-sync", "--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en-US")  # fmt: skip
        self.start()
        atexit.register(self.stop)

    @property
    def data(self):
        return self.folder / "data"

    def _run(self, program, *words):
        command = [str(programs() / program), *map(str, words)]
        subprocess.run(command, check=True, capture_output=True, cwd=self.folder, **self._as)

    def start(self):
        settings = _QUICK | {"unix_socket_directories": str(self.folder)}
        command = [programs() / "postgres", "-D", self.data]
        for name, value in settings.items():
            command += ["-c", f"{name}={value}"]
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                command, stdout=log, stderr=log, cwd=self.folder, **self._as
            )
        until = time.monotonic() + 60
        while not self._answers():
            if self._process.poll() is not None or time.monotonic() > until:
                raise RuntimeError((self.folder / "log").read_text())
            time.sleep(0.05)

    def _answers(self):
        try:
            psycopg.connect(self.address("postgres")).close()
        except psycopg.OperationalError:
            return False
        return True

    def crash(self):
        """Stop it as a lost mains supply would: no goodbye to anybody, nothing put in order."""
        self._process.send_signal(signal.SIGQUIT)
        self._process.wait(60)

    def stop(self):
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
            self._process.wait(60)
        shutil.rmtree(self.folder, ignore_errors=True)

    def address(self, name):
        """As a user would write it: the driver is the program's to choose."""
        return f"postgresql://workshop@/{name}?host={self.folder}"

    def sql(self, *statements, name="postgres"):
        with psycopg.connect(self.address(name), autocommit=True) as connection:
            for statement in statements:
                connection.execute(statement)

    def empty_database(self):
        """The address of a database with nothing in it."""
        name = f"test_{next(self._count)}"
        self.sql(f"CREATE DATABASE {name} STRATEGY FILE_COPY")
        return self.address(name)

    def database(self):
        """The address of a store with nothing in it: the migrations run once, for the template."""
        if not self._template:
            self._template = self.empty_database()
            Store(self._template).close()
        template = self._template.split("?")[0].rsplit("/", 1)[1]
        name = f"test_{next(self._count)}"
        self.sql(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")
        return self.address(name)

    def borrowed(self):
        """The address of an empty store that others had before, or of a new one."""
        return self._free.pop() if self._free else self.database()

    def give_back(self, address):
        """Empty a store for the next test, which takes a quarter of making one."""
        name = address.split("?")[0].rsplit("/", 1)[1]
        with psycopg.connect(address) as connection:
            rows = connection.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
            tables = ", ".join(table for (table,) in rows if table != "alembic_version")
        # the guards of the tables refuse it, as they should: they are lifted for this session
        self.sql(
            "SET session_replication_role = replica",
            f"TRUNCATE {tables} RESTART IDENTITY",
            name=name,
        )
        self._free.append(address)

    def drop(self, address):
        name = address.split("?")[0].rsplit("/", 1)[1]
        self.sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")

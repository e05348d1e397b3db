"""A fresh workshop in a temporary folder, served by the program under test."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx

from benchmarks.behaviour.constants import HOST, PATIENCE_S, WAIT_S
from benchmarks.behaviour.normalise import Plain
from benchmarks.behaviour.recorder import Recorder


def kernels(source: Path) -> Path:
    """Folder of what is compiled for this very source: nothing stale is used, ``source`` kept."""
    digest = hashlib.sha256(str(source).encode())
    for file in sorted(source.rglob("*.py")):
        digest.update(file.read_bytes())
    return Path(tempfile.gettempdir()) / f"behaviour-compiled-{digest.hexdigest()[:16]}"


def surroundings_of(source: Path, store: Path) -> dict[str, str]:
    """The environment of the program: this source, this store, plain text of one width, UTC."""
    return os.environ | {
        "PYTHONPATH": str(source),
        "PYTHONDONTWRITEBYTECODE": "1",
        "PYTHONHASHSEED": "0",
        "NUMBA_CACHE_DIR": str(kernels(source)),
        "COUNTERPOISE_STORE": str(store),
        "COLUMNS": "100",
        "TERM": "dumb",
        "NO_COLOR": "1",
        "TZ": "UTC",
        "LC_ALL": "C.UTF-8",
    }


def _meant(program: list[str], source: Path, surroundings: dict[str, str]) -> None:
    """Refuse to record another state of the program than the one asked for."""
    told = [program[0], "-c", "import counterpoise; print(counterpoise.__file__)"]
    if "-m" not in program:
        return
    got = subprocess.run(told, env=surroundings, capture_output=True, text=True, check=False,
                         cwd=tempfile.gettempdir())  # fmt: skip
    if not got.stdout.startswith(str(source)):
        raise SystemExit(f"the program is not taken from {source}: {got.stdout}{got.stderr}")


@contextmanager
def workshop(source: Path, out: Path, program: list[str]) -> Iterator[Recorder]:
    """Serve a fresh workshop from ``source``; yields who asks it and keeps answers in ``out``."""
    source = source.resolve()
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        surroundings = surroundings_of(source, folder / "store.db")
        _meant(program, source, surroundings)
        said = folder / "said.txt"
        with said.open("w") as errors:
            server = subprocess.Popen(
                [*program, "serve", "--port", "0", "--json"], cwd=folder, env=surroundings,
                stdout=subprocess.PIPE, stderr=errors, text=True,
            )  # fmt: skip
        try:
            line = server.stdout.readline() if server.stdout else ""
            if not line:
                raise SystemExit(f"the pages did not start: {said.read_text()}")
            address = json.loads(line)["address"]
            places = {str(folder): "<folder>", str(source): "<source>"}
            plain = Plain(places, dt.datetime.now(dt.UTC).date())
            same = {"host": HOST}  # papers hold a code of the address
            with httpx.Client(
                base_url=address, headers=same, timeout=PATIENCE_S, trust_env=False
            ) as client:
                yield Recorder(out, client, program, folder, surroundings, plain)
        finally:
            server.terminate()
            try:
                server.wait(WAIT_S)
            except subprocess.TimeoutExpired:
                server.kill()
        if told := said.read_text().strip():
            print(f"the server said:\n{plain.text(told)}", file=sys.stderr)

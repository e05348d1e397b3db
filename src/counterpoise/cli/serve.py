"""``counterpoise serve``: the workshop's pages."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import click

from counterpoise.cli.desk import DEFAULT_STORE, STORE_VARIABLE
from counterpoise.errors import InputError

_LOOPBACK = ("127.0.0.1", "::1", "localhost")
_DEMO = Path("build/demo.sqlite3")


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="The address to listen at.")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8642, show_default=True, help="The port; 0: any free one."
)
@click.option("--demo", is_flag=True, help="Open an invented workshop with its jobs.")
@click.option("--store", envvar=STORE_VARIABLE, default=None, show_envvar=True, metavar="PATH", help="The store.")
@click.option("--json", "as_json", is_flag=True, help="Print the address as JSON once the pages answer.")
def serve(host: str, port: int, demo: bool, store: str | None, as_json: bool) -> None:
    """Serve the workshop's pages until Ctrl-C."""
    where = store or (str(_DEMO) if demo else DEFAULT_STORE)
    _prepare(where, demo)
    listening = _listen(host, port)
    address = _address(listening)
    os.environ[STORE_VARIABLE], os.environ["COUNTERPOISE_HOST"] = where, host
    _announce(address, host, as_json)
    _run(listening)


def _prepare(where: str, demo: bool) -> None:
    """Open the store once before serving, so that its errors are told in words; fill an empty one for the demo."""
    from counterpoise.workshop.store import Store

    with Store(where) as store:
        if demo and not store.jobs():
            from counterpoise.catalog.loader import families, load_family
            from counterpoise.workshop.demo import seed

            seed(store, {name: load_family(name) for name in families()})


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen()  # who comes before the server is ready waits instead of being refused
    except OSError as error:
        listening.close()
        why = error.strerror or str(error)
        raise InputError(
            f"Cannot listen at {host}, port {port}: {why}", field="port", remedy="Try --port 0."
        ) from error
    return listening


def _address(listening: socket.socket) -> str:
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def _announce(address: str, host: str, as_json: bool) -> None:
    import json

    if as_json:
        click.echo(json.dumps({"address": address}))
        return
    click.echo(f"The workshop's pages are at {address} (Ctrl-C stops them).")
    if host not in _LOOPBACK:
        click.echo("Everybody on this network can read and write there: there are no accounts.", err=True)


def _run(listening: socket.socket) -> None:
    import uvicorn

    config = uvicorn.Config(
        "counterpoise.web.serving:application", factory=True, log_level="warning", server_header=False
    )
    uvicorn.Server(config).run(sockets=[listening])

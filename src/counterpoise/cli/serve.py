"""``counterpoise serve``: the workshop's pages."""

from __future__ import annotations

import os
import socket
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import (
    DEFAULT_STORE,
    FAMILIES_VARIABLE,
    STORE_VARIABLE,
    families_option,
)
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.web.network.access import PhoneAccess

# names under which nobody but this computer can reach it
_LOOPBACK = ("127.0.0.1", "::1", "localhost")
# below build/, so that "make clean" takes the invented workshop away with the rest
_DEMO = Path("build/demo.sqlite3")
# the folder of the root: whoever has its key can vouch for pages before the workshop's phones
_KEYS = "counterpoise-keys"
_TERMINAL_CODE_S = 3600.0  # an hour: long enough to fetch a phone, short enough to be forgotten


@click.command(help="Serve the workshop's pages until Ctrl-C.")
@click.option(
    "--host",
    help="The address to listen at: 127.0.0.1 where not given, with --phone that of this computer.",
)
# two ports above must be left for phones
@click.option(
    "--port",
    type=click.IntRange(0, 65533),
    default=8642,
    show_default=True,
    help="The port, with --phone also the next two; 0: any free ones.",
)
@click.option(
    "--phone", is_flag=True, help="Let phones of the workshop's network in, by a code, over TLS."
)
@click.option(
    "--keys",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="With --phone: where the root and its key are kept. Beside the store where not given.",
)
@click.option(
    "--backup-every",
    "hours",
    type=click.FloatRange(0.1, 24 * 31),
    metavar="HOURS",
    help="Make a checked backup every so often, like 24; the last 30 stay.",
)
@click.option(
    "--backups",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="With --backup-every: where to. counterpoise-backups beside the store where not given.",
)
@click.option("--demo", is_flag=True, help="Open an invented workshop with its jobs.")
@click.option(
    "--store",
    envvar=STORE_VARIABLE,
    default=None,
    show_envvar=True,
    metavar="PATH",
    help="The store.",
)
@families_option
@click.option(
    "--json", "as_json", is_flag=True, help="Print the address as JSON once the pages answer."
)
def serve(
    host: str | None, port: int, phone: bool, keys: Path | None, demo: bool, store: str | None,
    folder: str | None, as_json: bool, hours: float | None, backups: Path | None,
) -> None:  # fmt: skip
    """Serve until told to stop. Raises InputError for a port that is taken, StoreError."""
    # the demo has a store of its own: invented jobs must not get among real ones
    where = store or (str(_DEMO) if demo else DEFAULT_STORE)
    _prepare(where, demo)
    if folder:
        # the application is made by the server, so it is told by the environment
        os.environ[FAMILIES_VARIABLE] = folder
    if hours:
        _back_up(where, backups, hours, folder or "")
    if phone:
        _serve_phones(where, host or "", port, keys or _folder_of_keys(where), as_json=as_json)
        return
    host = host or _LOOPBACK[0]
    listening = _listen(host, port)
    address = _address(listening)
    # the application is made by the server, so it is told by the environment
    os.environ[STORE_VARIABLE], os.environ["COUNTERPOISE_HOST"] = where, host
    _announce(address, host, as_json)
    _run(listening)


def _prepare(where: str, demo: bool) -> None:
    # opened once before serving, so that its errors are told in words and not by the server
    from counterpoise.workshop.store.store import Store

    with Store(where) as store:
        if demo and not store.jobs.lines():
            from counterpoise.catalog.loader import Catalog
            from counterpoise.workshop.demo.play import seed

            seed(store, Catalog())


def _back_up(where: str, place: Path | None, hours: float, families: str) -> None:
    from counterpoise.cli.keeping.commands import backups_folder
    from counterpoise.cli.keeping.schedule import Schedule

    Schedule(where, place or backups_folder(where), hours, families).begin()


def _folder_of_keys(where: str) -> Path:
    # beside the store's file, as they are kept together; a database elsewhere has no folder of ours
    return Path(_KEYS) if "://" in where else Path(where).absolute().parent / _KEYS


def _serve_phones(where: str, host: str, port: int, keys: Path, *, as_json: bool) -> None:
    from counterpoise.web.network.access import PhoneAccess
    from counterpoise.web.network.addresses import network_names
    from counterpoise.web.network.certificates import identity
    from counterpoise.web.network.pairing import Pairing

    # names before keys: the certificate is made for them
    names = network_names(host)
    known = identity(keys, names)
    # this computer, phones that were let in, phones that trust nothing yet
    places = (
        (_LOOPBACK[0], port),
        (str(names.address), port and port + 1),
        (str(names.address), port and port + 2),
    )
    listening = [_listen(*place) for place in places]
    own, theirs, plain = (_address(each) for each in listening)
    # phones speak TLS to that socket, whatever the socket says of itself
    phones = PhoneAccess(known, Pairing(theirs.replace("http:", "https:", 1)), names, plain)
    _announce_phones(own, phones, keys, as_json=as_json)
    # imported by name: the pages are a layer of their own, and only here are they needed
    import_module("counterpoise.web.serving").serve_phones(where, phones, listening)


def _announce_phones(own: str, phones: PhoneAccess, keys: Path, *, as_json: bool) -> None:
    import json

    from counterpoise.web.network.instructions import printed

    # one code at the start, so that the first phone can come in without a screen with a browser
    code = phones.pairing.new_code("/jobs", _TERMINAL_CODE_S)
    mark = phones.identity.fingerprint
    if as_json:
        answer = {
            "address": own,
            "phone": phones.pairing.origin,
            "trust": phones.trust_address,
            "fingerprint": mark,
        }
        click.echo(json.dumps(answer | {"code": code, "keys": str(keys)}))
        return
    click.echo(f"The workshop's pages are at {own} (Ctrl-C stops them).")
    click.echo(
        f"\nA new phone first trusts this workshop: open {phones.trust_address} on it. "
        "Fingerprint of the root:"
    )
    click.echo(f"  {mark}")
    click.echo(
        f"\nThen this code lets one phone in, once, within the hour ({phones.pairing.origin}):\n"
    )
    click.echo(printed(code))
    click.echo(
        "Each job shows a code of its own on the page Record a spin. "
        f"Keep the root's key where it is: {keys}"
    )


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family)
    # without it the port stays taken for a minute after a stop
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        # from here on who comes waits; without it they are refused until the server is ready
        listening.listen()
    except OSError as error:
        listening.close()
        why = error.strerror or str(error)
        raise InputError(
            f"Cannot listen at {host}, port {port}: {why}", field="port", remedy="Try --port 0."
        ) from error
    return listening


def _address(listening: socket.socket) -> str:
    # asked of the socket: with port 0 only it knows which was free
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def _announce(address: str, host: str, as_json: bool) -> None:
    import json

    if as_json:
        click.echo(json.dumps({"address": address}))
        return
    click.echo(f"The workshop's pages are at {address} (Ctrl-C stops them).")
    # on stderr: a script that reads the address still gets the address alone
    if host not in _LOOPBACK:
        click.echo(
            "Everybody on this network can read and write there: there are no accounts.", err=True
        )


def _run(listening: socket.socket) -> None:
    import uvicorn

    config = uvicorn.Config(
        "counterpoise.web.serving:application",
        factory=True,
        log_level="warning",
        server_header=False,
        ws="none",
        # by name, as the application: it is imported where it is used
        http="counterpoise.web.network.slow:Impatient",
    )
    uvicorn.Server(config).run(sockets=[listening])

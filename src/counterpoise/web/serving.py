"""The application as a server starts it: its store and its address come from the environment."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import socket
from collections.abc import Iterator, Sequence
from threading import Thread
from types import FrameType
from typing import Any

import uvicorn
from fastapi import FastAPI

from counterpoise.web.app import create_app, create_trust_app
from counterpoise.web.network.access import PhoneAccess
from counterpoise.web.request_limits import local_network, loopback
from counterpoise.workshop.services.intake import open_workshop
from counterpoise.workshop.services.warm_up import warm

STORE = "COUNTERPOISE_STORE"
HOST = "COUNTERPOISE_HOST"


def application() -> FastAPI:
    """The workshop's pages over the store named in ``COUNTERPOISE_STORE``."""
    outside = not loopback(os.environ.get(HOST, "127.0.0.1"))
    workshop = open_workshop(os.environ.get(STORE, "counterpoise.db"))
    Thread(target=warm, daemon=True).start()
    return create_app(workshop, local_network if outside else loopback)


def serve_phones(where: str, phones: PhoneAccess, listening: Sequence[socket.socket]) -> None:
    """Serve the pages to this computer, to phones that were let in, and the root to phones that trust nothing yet.

    ``listening`` has a socket for each of the three, in this order. Returns when the process is told to stop.
    """
    workshop = open_workshop(where)
    Thread(target=warm, daemon=True).start()

    def called(host: str) -> bool:
        return host in phones.names.in_address_line

    leaf = {
        "ssl_certfile": str(phones.identity.certificate),
        "ssl_keyfile": str(phones.identity.key),
    }
    own, theirs, plain = listening
    servers = [
        (_Server(_config(create_app(workshop, loopback, phones))), own),
        (_Server(_config(create_app(workshop, called, phones, gated=True), **leaf)), theirs),
        (_Server(_config(create_trust_app(phones, workshop.settings, called))), plain),
    ]
    asyncio.run(_together(servers))


def _config(app: FastAPI, **more: Any) -> uvicorn.Config:
    return uvicorn.Config(app, log_level="warning", server_header=False, ws="none", **more)


class _Server(uvicorn.Server):
    """One of several: the signals to stop are for all of them."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave the signals alone."""
        yield


async def _together(servers: Sequence[tuple[_Server, socket.socket]]) -> None:
    def stop(number: int, _: FrameType | None) -> None:
        for server, _at in servers:
            server.handle_exit(number, None)

    before = {number: signal.signal(number, stop) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        await asyncio.gather(*(server.serve(sockets=[at]) for server, at in servers))
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)

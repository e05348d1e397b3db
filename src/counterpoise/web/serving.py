"""The application as a server starts it: its store and its address come from the environment."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import os
import signal
import socket
import time
from collections.abc import Iterator, Sequence
from threading import Thread
from types import FrameType

import uvicorn
from fastapi import FastAPI

from counterpoise.catalog.places import own_folder
from counterpoise.web.app import create_app, create_trust_app
from counterpoise.web.network.access import PhoneAccess
from counterpoise.web.network.certificates import Identity
from counterpoise.web.network.slow import Impatient, PromptLoop
from counterpoise.web.request_limits import local_network, loopback
from counterpoise.web.waiting import AT_ONCE_S, Waits
from counterpoise.workshop.services.intake import open_workshop
from counterpoise.workshop.services.warm_up import warm
from counterpoise.workshop.services.workshop import Workshop

# A server that starts the application by its import path can hand it nothing but the environment.
STORE = "COUNTERPOISE_STORE"
FAMILIES = "COUNTERPOISE_FAMILIES"
HOST = "COUNTERPOISE_HOST"
_FIRST_PAGE_S = 1.5  # from the start, before anything is worked out that nobody asked for


def application() -> FastAPI:
    """The workshop's pages over the store named in ``COUNTERPOISE_STORE``.

    Raises StoreError where it cannot be opened.
    """
    # Bound to the loopback alone, not even the computer's own name is a host of ours.
    outside = not loopback(os.environ.get(HOST, "127.0.0.1"))
    workshop = _opened(os.environ.get(STORE, "counterpoise.db"))
    waits = _working_ahead(workshop)
    return create_app(workshop, local_network if outside else loopback, waits=waits)


def _working_ahead(workshop: Workshop) -> Waits:
    """Have what will be asked worked out before, behind what is asked now."""
    waits, worker = Waits(AT_ONCE_S, workshop.written), workshop.assessments.worker
    worker.busy = lambda: waits.asking > 0
    workshop.work_ahead(AT_ONCE_S / 2)

    def begin() -> None:
        # the first page goes first: bringing in the planner would hold it up for as long
        time.sleep(_FIRST_PAGE_S)
        worker.let_go_first()
        warm()
        # what is there now stays: it need not be looked through for what can be thrown away
        gc.collect()
        gc.freeze()
        worker.wake()

    Thread(target=begin, daemon=True).start()
    return waits


def _opened(where: str) -> Workshop:
    # the folder of its own families: as named in the environment, else beside the store
    return open_workshop(where, own_folder(os.environ.get(FAMILIES), where))


def serve_phones(where: str, phones: PhoneAccess, listening: Sequence[socket.socket]) -> None:
    """Serve the pages to this computer and to paired phones, and the root to any phone.

    ``listening`` has a socket for each of the three, in this order. Returns when the process is
    told to stop. Raises StoreError where the store cannot be opened.
    """
    workshop = _opened(where)
    waits = _working_ahead(workshop)

    def is_named(host: str) -> bool:
        # Exactly the names in the certificate: any other would not be trusted by the phone
        # anyway.
        return host in phones.names.in_address_line

    leaf = phones.identity
    # Three applications on one workshop: what a port may show is settled when it is built, not
    # asked at each request.
    own, theirs, plain = listening
    here = create_app(workshop, loopback, phones, waits=waits)
    there = create_app(workshop, is_named, phones, gated=True, waits=waits)
    servers = [
        (_Server(_config(here)), own),
        (_Server(_config(there, leaf)), theirs),
        (_Server(_config(create_trust_app(phones, workshop.settings, is_named))), plain),
    ]
    with asyncio.Runner(loop_factory=PromptLoop) as runner:
        runner.run(_together(servers))


def _config(app: FastAPI, leaf: Identity | None = None) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        log_level="warning",
        server_header=False,
        ws="none",
        http=Impatient,
        ssl_certfile=str(leaf.certificate) if leaf else None,
        ssl_keyfile=str(leaf.key) if leaf else None,
    )


# Each uvicorn server takes the signals for itself and gives them back when it ends; of three, the
# last to start would stop alone.
class _Server(uvicorn.Server):
    """One of several: the signals to stop are for all of them."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave the signals alone."""
        yield


async def _together(servers: Sequence[tuple[_Server, socket.socket]]) -> None:
    # Ctrl-C once ends all three; a second time, uvicorn drops what is still open.
    def stop(number: int, _: FrameType | None) -> None:
        for server, _at in servers:
            server.handle_exit(number, None)

    before = {number: signal.signal(number, stop) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        await asyncio.gather(*(server.serve(sockets=[at]) for server, at in servers))
    # The terminal's own handlers again: the command that called may have something left to do.
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)

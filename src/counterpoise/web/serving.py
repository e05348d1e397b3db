"""The application as a server starts it: its store and its address come from the environment."""

from __future__ import annotations

import os
from threading import Thread

from fastapi import FastAPI

from counterpoise.report.taking import open_desk, warm
from counterpoise.web.app import create_app
from counterpoise.web.guard import local_network, loopback

STORE = "COUNTERPOISE_STORE"
HOST = "COUNTERPOISE_HOST"


def application() -> FastAPI:
    """The workshop's pages over the store named in ``COUNTERPOISE_STORE``."""
    outside = not loopback(os.environ.get(HOST, "127.0.0.1"))
    desk = open_desk(os.environ.get(STORE, "counterpoise.db"))
    Thread(target=warm, daemon=True).start()
    return create_app(desk, local_network if outside else loopback)

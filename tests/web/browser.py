"""A server in a thread and a real browser, for the tests that need them."""

import contextlib
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from typing import Any

import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, sync_playwright

PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 800}
_FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


@contextlib.contextmanager
def served(app: FastAPI, **more: Any) -> Iterator[str]:
    """The address at which the application answers; ``more`` for the server, as the files of a certificate."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", ws="none", **more))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield f"{'https' if more else 'http'}://127.0.0.1:{listening.getsockname()[1]}"
    server.should_exit = True
    thread.join()
    listening.close()


@contextlib.contextmanager
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=_FLAGS)
        yield browser
        browser.close()

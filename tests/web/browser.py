"""A server in a thread and a real browser, for the tests that need them."""

import contextlib
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, ViewportSize, sync_playwright

PHONE: ViewportSize = {"width": 360, "height": 740}
DESK: ViewportSize = {"width": 1280, "height": 800}
_FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


@contextlib.contextmanager
def served(app: FastAPI, port: int = 0, **more: Any) -> Iterator[str]:
    """The address at which the application answers; ``more`` for the server, as the files of a certificate."""
    listening = socket.socket()
    # a workshop's computer that is switched on again has the address it had
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listening.bind(("127.0.0.1", port))
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
def phone_browser(browser: Browser, folder: Path) -> Iterator[BrowserContext]:
    """A phone's browser, of the kind of another, that finds what it kept in a folder when it is opened again."""
    context = browser.browser_type.launch_persistent_context(
        folder, executable_path=shutil.which("chromium"), args=_FLAGS, viewport=PHONE, has_touch=True
    )  # fmt: skip
    yield context
    context.close()


@contextlib.contextmanager
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=_FLAGS)
        yield browser
        browser.close()

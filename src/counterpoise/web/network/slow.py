"""Connections that send or take too slowly are let go: a few of them must not hold up everybody."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from uvicorn.protocols.http.h11_impl import H11Protocol

if TYPE_CHECKING:
    from asyncio import TimerHandle

# A head is a few hundred bytes: whoever needs longer is no browser in this building.
HEAD_S = 10.0
# A phone behind a wall takes a page slowly, but takes some of it.
TAKING_S = 60.0
HANDSHAKE_S = 10.0  # two or three messages each way


class Impatient(H11Protocol):
    """HTTP that waits ``head_s`` seconds for a whole head, ``taking_s`` for an answer to move on.

    How long a body may take is seen to by :class:`counterpoise.web.request_limits.RequestLimits`.
    """

    head_s = HEAD_S
    taking_s = TAKING_S
    _head: TimerHandle | None = None
    _taking: TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first head."""
        super().connection_made(transport)
        self._watch_head()

    def data_received(self, data: bytes) -> None:
        """Take bytes; what is no whole head yet does not lengthen the wait for it."""
        super().data_received(data)
        # behind it a request may have begun, or still be on its way letter by letter
        self._watch_head()

    def on_response_complete(self) -> None:
        """An answer is sent: the next head is waited for."""
        super().on_response_complete()
        self._watch_head()

    def pause_writing(self) -> None:
        """The other side takes nothing more for now."""
        super().pause_writing()
        # a phone in a lift takes nothing for a moment; one that takes nothing for a minute is gone
        self._taking = self.loop.call_later(self.taking_s, self._let_go)

    def resume_writing(self) -> None:
        """The other side takes bytes again."""
        super().resume_writing()
        self._taking_on()

    def connection_lost(self, exc: Exception | None) -> None:
        """Nothing is waited for any more."""
        self._head_whole()
        self._taking_on()
        super().connection_lost(exc)

    def _watch_head(self) -> None:
        # between two requests uvicorn's own, shorter time for an idle line holds as well
        waiting = self.cycle is None or self.cycle.response_complete
        if not waiting:
            self._head_whole()
        elif self._head is None and not self.transport.is_closing():
            self._head = self.loop.call_later(self.head_s, self._let_go)

    def _head_whole(self) -> None:
        if self._head is not None:
            self._head.cancel()
            self._head = None

    def _taking_on(self) -> None:
        if self._taking is not None:
            self._taking.cancel()
            self._taking = None

    def _let_go(self) -> None:
        # not close(): that would wait until the other side has taken what is still to be sent
        self.transport.abort()


class PromptLoop(asyncio.SelectorEventLoop):
    """An event loop whose servers wait ``HANDSHAKE_S`` for the handshake of a protected line."""

    async def create_server(self, *args: Any, **options: Any) -> asyncio.Server:
        """As asyncio's own, which waits a minute."""
        if options.get("ssl") is not None:
            options.setdefault("ssl_handshake_timeout", HANDSHAKE_S)
        return await super().create_server(*args, **options)

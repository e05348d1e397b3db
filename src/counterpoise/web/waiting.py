"""No waiting in the dark: what takes longer than a moment shows how far it is, and then the answer.

A question (GET) that is not answered in time goes on being worked out. A browser gets a page that
asks again by itself, without a script; a program gets 202 and is told where to ask. Who asks again
gets the answer that was begun, not a second one.
"""

from __future__ import annotations

import asyncio
import math
import re
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from urllib.parse import parse_qsl, urlencode

from fastapi import Request
from fastapi.responses import JSONResponse
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from counterpoise.web.render import page

AT_ONCE_S = 0.8  # a page that is there by then needs no word of waiting
LONGEST_WAIT_S = 60.0  # of a program that says how long it will wait
AGAIN_S = 1  # after so long a page asks again
KEPT_S = 60.0  # an answer that nobody fetched by then is forgotten
MOST = 32  # questions worked out at once for those who ask again
# By address, with numbers and names left out: seconds on two slow cores, until one was timed.
_SECONDS = {"/jobs/#/recording/#/fit": 40.0, "/guarantee": 3.0, "/yard": 5.0}
_WORDS = {
    "fit": "Fitting the machine to the recording",
    "guarantee": "Working out what a guarantee costs",
    "sheet": "Drawing the job sheet",
    "yard": "Weighing the open jobs",
    "recording": "Reading the recording",
}
_JOB = re.compile(r"(?:/api)?/jobs/(\d{1,9})(?=/|$)")
_READING = frozenset({"GET", "HEAD", "OPTIONS"})
_NAME = re.compile(r"/(?:\d+|[0-9a-f]{12,})(?=/|$|\.)")


@dataclass(eq=False)
class _Question:
    """One that is being worked out; ``messages`` are its answer as it is sent."""

    kind: str
    writes: int
    begun: float
    messages: list[Message] = field(default_factory=list)
    ready: asyncio.Event = field(default_factory=asyncio.Event)
    finished: float = math.inf
    task: asyncio.Task[None] | None = None


def _nobody(_: int) -> None:
    pass


@dataclass
class Waits:
    """What is being worked out, shared by the applications of one workshop.

    ``patience``: seconds that a question may take before its asker is told to wait; without end
    where whoever asks waits anyway.
    """

    patience: float = math.inf
    # told after each write: the number of the job it went to, 0 for none
    written: Callable[[int], object] = _nobody
    # how many answers somebody waits for just now
    asking: int = 0
    # how often something was written: an answer begun before is worked out anew
    writes: int = 0
    questions: OrderedDict[tuple[str, ...], _Question] = field(default_factory=OrderedDict)
    # by kind of address, what it took last
    took: dict[str, float] = field(default_factory=lambda: dict(_SECONDS))


class Waiting:
    """Answers in time, with the answer or with how far it is."""

    def __init__(self, app: ASGIApp, waits: Waits) -> None:
        self.app, self.waits = app, waits

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; one that is asked by a browser or a program is not kept waiting."""
        waits = self.waits
        if scope["type"] != "http" or scope["method"] != "GET" or not _is_asked(scope):
            await self._at_once(scope, receive, send)
            return
        patience, query = _patience(scope, waits.patience)
        if patience == math.inf:
            await self.app(scope, receive, send)
            return
        await self._in_time(scope, send, patience, query)

    async def _at_once(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass it on; what was written is then on disk, and worked ahead of."""
        waits, writes = self.waits, scope.get("method", "GET") not in _READING
        waits.asking += 1
        try:
            await self.app(scope, receive, send)
        finally:
            waits.asking -= 1
            waits.writes += writes
        if writes:
            waits.written(int(named[1]) if (named := _JOB.match(scope["path"])) else 0)

    async def _in_time(self, scope: Scope, send: Send, patience: float, query: str) -> None:
        waits, headers = self.waits, Headers(scope=scope)
        _forget_old(waits)
        # an answer is for whoever asked: a phone's mark goes with the question
        asker = (headers.get(name, "") for name in ("cookie", "host", "accept-language"))
        key = (scope["path"], query, *asker)
        question = waits.questions.get(key)
        # written since: what is shown must not be older than what somebody has just put down
        if question is None or (question.ready.is_set() and question.writes != waits.writes):
            if len(waits.questions) >= MOST:
                await self.app(scope, _nothing_more(), send)
                return
            question = waits.questions[key] = self._begun(scope, query)
        waits.asking += 1
        try:
            await asyncio.wait_for(question.ready.wait(), patience)
        except TimeoutError:
            # Starlette's page wants the request; what was asked is not touched
            await _told(scope, question, waits, query)(scope, _nothing_more(), send)
            return
        finally:
            waits.asking -= 1
        if waits.questions.get(key) is question:
            del waits.questions[key]
        # an error that no handler knew is raised here, as if nothing stood between
        if not question.messages and question.task is not None:
            await question.task
        for message in question.messages:
            await send(message)

    def _begun(self, scope: Scope, query: str) -> _Question:
        question = _Question(_kind(scope["path"]), self.waits.writes, time.monotonic())

        # kept, not sent on: nobody may be there when it comes, or somebody who asks again
        async def keep(message: Message) -> None:
            question.messages.append(message)
            if message["type"] == "http.response.body" and not message.get("more_body"):
                self._finished(question)

        async def work() -> None:
            try:
                await self.app({**scope, "query_string": query.encode()}, _nothing_more(), keep)
            finally:
                self._finished(question)

        # held by the question: a task that nobody holds may be collected before it is done
        question.task = asyncio.create_task(work())
        return question

    def _finished(self, question: _Question) -> None:
        if question.ready.is_set():
            return
        question.finished = time.monotonic()
        self.waits.took[question.kind] = question.finished - question.begun
        question.ready.set()


def _is_asked(scope: Scope) -> bool:
    """Whether a person or a program reads the answer: a picture in a page has nobody to tell."""
    return scope["path"].startswith("/api/") or "text/html" in Headers(scope=scope).get(
        "accept", ""
    )


def _patience(scope: Scope, usual: float) -> tuple[float, str]:
    """Seconds to wait, and the query without the word on it (``wait``)."""
    # the rest of the query is the question's own, and says which answer is meant
    pairs = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    left = [(name, value) for name, value in pairs if name != "wait"]
    if len(left) == len(pairs) or not scope["path"].startswith("/api/"):
        return usual, scope["query_string"].decode("latin-1")
    try:
        seconds = float(dict(pairs)["wait"] or LONGEST_WAIT_S)
    except ValueError:
        seconds = usual
    # not a number fails every comparison, and waits as usual
    wanted = min(seconds, LONGEST_WAIT_S) if seconds >= 0.0 else usual
    return max(usual, wanted), urlencode(left)


def _kind(path: str) -> str:
    """The address without numbers and names: one job's page takes as long as another's."""
    return _NAME.sub("/#", path.removeprefix("/api"))


def _told(scope: Scope, question: _Question, waits: Waits, query: str) -> ASGIApp:
    """How far an answer is: a page that asks again by itself, or JSON below ``/api``."""
    so_far = time.monotonic() - question.begun
    # what takes longer than last time is nearly done as long as nobody knows better
    expected = max(waits.took.get(question.kind, 3.0), 1.25 * so_far)
    again = scope["path"] + (f"?{query}" if query else "")
    if scope["path"].startswith("/api/"):
        body = {
            "what": "This is still being worked out",
            "seconds": round(so_far, 1),
            "expected_seconds": round(expected, 1),
            "again": again,
        }
        headers = {"location": again, "retry-after": str(AGAIN_S)}
        return JSONResponse(body, 202, headers)
    last = question.kind.rstrip("/").rpartition("/")[2]
    shown = page(
        Request(scope),
        "waiting.html",
        status=202,
        words=_WORDS.get(last, "Working it out"),
        so_far=so_far,
        expected=expected,
        again=again,
        again_s=AGAIN_S,
    )
    shown.headers["retry-after"] = str(AGAIN_S)
    return shown


def _forget_old(waits: Waits) -> None:
    now = time.monotonic()
    for key, question in list(waits.questions.items()):
        if now - question.finished > KEPT_S:
            del waits.questions[key]


def _nothing_more() -> Receive:
    """What a question without a body receives: its end, and then nothing for ever."""
    ended = False

    async def receive() -> Message:
        nonlocal ended
        if ended:
            await asyncio.Event().wait()
        ended = True
        return {"type": "http.request", "body": b"", "more_body": False}

    return receive

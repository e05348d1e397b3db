"""Everything that is sent is written once.

Each route that takes something is of the kind below: what comes with a key that was used is
answered as it was, and writes nothing; what is new is written with its key in one transaction.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Mapping
from typing import Any

from fastapi import Request, Response
from fastapi.encoders import jsonable_encoder
from fastapi.responses import JSONResponse, RedirectResponse
from fastapi.routing import APIRoute
from starlette.concurrency import run_in_threadpool

from counterpoise.errors import ConflictError, CounterpoiseError, InputError
from counterpoise.report.views.job import recorded
from counterpoise.web.errors import Problem, answer
from counterpoise.web.presence import wrote
from counterpoise.web.sending.conflicts import conflict_page, used_page
from counterpoise.web.sending.refused import refused_page
from counterpoise.web.sending.sent import Sent, read_sent
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.writes import Written

Handler = Callable[[Request], Coroutine[Any, Any, Response]]
_USED = Problem(
    what="This key was used before, for something else; nothing was written",
    field="Idempotency-Key",
    remedy="Send a new key with everything new.",
)
_PARAMETER = {
    "name": "Idempotency-Key",
    "in": "header",
    "required": False,
    "description": "A name of your own for this write, 1 to 100 plain characters: sent again with"
    " the same, it is answered as before and nothing is written twice.",
    "schema": {"type": "string", "maxLength": 100},
}


class WrittenOnce(APIRoute):
    """A route whose writes carry keys; one that only shows is left as it is."""

    def __init__(self, path: str, endpoint: Callable[..., Any], **options: Any) -> None:
        if path.startswith("/api") and "POST" in (options.get("methods") or ()):
            extra = options.get("openapi_extra") or {}
            options["openapi_extra"] = {**extra, "parameters": [_PARAMETER]}
        super().__init__(path, endpoint, **options)

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """The handler, with what is sent written once."""
        original = super().get_route_handler()
        return _once(original) if "POST" in (self.methods or ()) else original


def _once(original: Handler) -> Handler:
    async def handler(request: Request) -> Response:
        workshop: Workshop = request.app.state.workshop
        sent = await read_sent(request)
        try:
            if not sent.key:
                return await original(request)
            return _short(request, await _under_its_key(original, request, sent))
        except ConflictError as error:
            if not sent.by_form:
                raise
            form = await request.form()
            shown = await run_in_threadpool(conflict_page, request, workshop, (sent, form), error)
            return _short(request, shown)
        except InputError as error:
            again = await refused_page(request, sent, error) if sent.by_form else None
            if again is None:
                raise
            return again

    return handler


async def _under_its_key(original: Handler, request: Request, sent: Sent) -> Response:
    """Answer as before where the key was used, else write under it."""
    workshop: Workshop = request.app.state.workshop
    before = await run_in_threadpool(workshop.writes.known, sent.key)
    if before is None:
        try:
            with workshop.writes.under(sent.key, sent.digest) as unit:
                response = await original(request)
                # What is refused has written nothing, and may be sent again under its key.
                if response.status_code < 400:
                    await run_in_threadpool(workshop.writes.finish, unit, _kept(response))
                    _wrote(request, unit.entry)
                return response
        except CounterpoiseError:
            # Two of the same came at once, and the other was quicker: that is no failure.
            before = await run_in_threadpool(workshop.writes.known, sent.key)
            if before is None:
                raise
    if before.digest != sent.digest:
        return await _used(request, sent, before)
    _wrote(request, (before.job, before.entry))
    return await run_in_threadpool(_as_before, request, before)


def _wrote(request: Request, entry: tuple[int, int] | None) -> None:
    # what a browser wrote itself is no news to it
    if entry and entry[0]:
        request.state.entry = entry[1]
        wrote(request, *entry)


def _short(request: Request, response: Response) -> Response:
    """Where to go (Location) and the entry that was written, for a page that sends by a script.

    It asks for that by ``Prefer: return=minimal`` (RFC 7240): a fetch that followed the way would
    have the next page made twice.
    """
    if response.status_code != 303 or request.headers.get("prefer") != "return=minimal":
        return response
    headers = {"location": response.headers["location"], "preference-applied": "return=minimal"}
    if entry := getattr(request.state, "entry", 0):
        headers["x-entry"] = str(entry)
    short = Response(status_code=204, headers=headers)
    # who wrote is remembered as ever
    for cookie in response.headers.getlist("set-cookie"):
        short.headers.append("set-cookie", cookie)
    return short


async def _used(request: Request, sent: Sent, before: Written) -> Response:
    """The key was used for something else: whoever sent a form is asked, a program refused."""
    if not sent.by_form:
        return answer(request, 422, _USED)
    form = await request.form()
    workshop: Workshop = request.app.state.workshop
    return await run_in_threadpool(used_page, request, workshop, (sent, form), before)


def _as_before(request: Request, before: Written) -> Response:
    """The answer to what was written under the key."""
    workshop: Workshop = request.app.state.workshop
    if before.answer is None:
        # Killed, or planning: what was written is known, what to do now is worked out anew.
        return _anew(request, workshop, before)
    kept = before.answer
    response = Response(str(kept["body"]), int(str(kept["status"])), media_type=str(kept["type"]))
    for name in ("location", "set-cookie"):
        if kept[name]:
            response.headers[name] = str(kept[name])
    return response


def _anew(request: Request, workshop: Workshop, before: Written) -> Response:
    if not request.url.path.startswith("/api"):
        return RedirectResponse(f"/jobs/{before.job}", 303)
    content = jsonable_encoder(recorded(workshop, before.job, before.entry))
    return JSONResponse(content, 201)


def _kept(response: Response) -> Mapping[str, object]:
    """An answer as it is kept with its key: status, type, body (text) and two headers, or empty."""
    headers = response.headers
    return {
        "status": response.status_code,
        "type": headers.get("content-type", ""),
        "body": bytes(response.body).decode(),
        "location": headers.get("location", ""),
        "set-cookie": headers.get("set-cookie", ""),
    }

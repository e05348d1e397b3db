"""Every error as a plain page or as JSON: what went wrong, where, what to do."""

from __future__ import annotations

import logging

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.types import Scope

from counterpoise.errors import (
    ConflictError,
    CounterpoiseError,
    InputError,
    NotFoundError,
    StoreError,
)
from counterpoise.web.render import page
from counterpoise.web.request_limits import BODY_TOO_LARGE, HEADERS, BodyTooLargeError

# Only what the workshop can do nothing about is logged: a store that fails and a bug of ours.
# What a sender did wrong is told to the sender alone.
_log = logging.getLogger(__name__)
_ANSWERS = {
    # Starlette's own words ("Not Found") tell nobody at a bench what to do next.
    404: ("There is no such page", "Go back to the list of jobs."),
    408: ("What was sent came too slowly, and was not taken", "Send it again on a better line."),
    405: ("This address does not take that", "Go back and use the form on the page."),
}


# The same three parts as an InputError: what a page shows is what a program gets.
class Problem(BaseModel):
    """What went wrong, in which field (empty where in none), and what to do about it."""

    what: str
    field: str = ""
    remedy: str = ""


def answer(request: Request, status: int, problem: Problem) -> Response:
    """The problem under a status: JSON below ``/api``, a page elsewhere."""
    # By the path and not by an Accept header: a program that forgot the header would be handed a
    # page to parse, and a browser that asks for anything would see JSON.
    if request.url.path.startswith("/api"):
        return JSONResponse(problem.model_dump(), status)
    return page(request, "problem.html", status=status, problem=problem, code=status)


def refuse(scope: Scope, status: int, what: str, remedy: str) -> Response:
    """The request limits' refusal as an answer, for a scope that no route has seen.

    JSON below ``/api``, a page elsewhere, as :func:`answer` does.
    """
    return answer(Request(scope), status, Problem(what=what, remedy=remedy))


def _input(request: Request, error: Exception) -> Response:
    # Other errors of ours carry no field and no remedy: their sentence has to do.
    if isinstance(error, InputError):
        return answer(
            request, 422, Problem(what=error.message, field=error.field, remedy=error.remedy)
        )
    return answer(request, 422, Problem(what=str(error)))


def _conflict(request: Request, error: Exception) -> Response:
    # A ConflictError says what happened, then what to do: its first full stop parts the two.
    what, _, remedy = str(error).partition(". ")
    return answer(
        request,
        409,
        Problem(what=what, field="last", remedy=remedy or "Reload the page, then save it again."),
    )


def _missing(request: Request, error: Exception) -> Response:
    # The handler is registered for this error alone.
    if isinstance(error, NotFoundError):
        return answer(request, 404, Problem(what=error.message, remedy=error.remedy))
    return answer(request, 404, Problem(what=str(error), remedy="Go back to the list of jobs."))


def _store(request: Request, error: Exception) -> Response:
    # The person at the bench cannot mend a disk; whoever looks after the computer reads the log.
    _log.error("store: %s", error)
    what, remedy = str(error), "Nothing was changed. Check the disk, then try again."
    # what the store itself knows of the cause goes before a guess
    if isinstance(error, StoreError) and error.remedy:
        what, remedy = error.message, error.remedy
    return answer(request, 503, Problem(what=what, remedy=remedy))


def _http(request: Request, error: Exception) -> Response:
    # Nothing but HTTPException is registered for this handler; 500 is there for the type's sake.
    code = error.status_code if isinstance(error, HTTPException) else 500
    what, remedy = _ANSWERS.get(code, ("That did not work", "Go back and try again."))
    # Raised while a form is taken apart (a wrong boundary), or a JSON body that is no text.
    if code == 400:
        what, remedy = (
            "What was sent could not be read",
            "Go back, reload the page and send it again.",
        )
    return answer(request, code, Problem(what=what, remedy=remedy))


def _invalid(request: Request, error: Exception) -> Response:
    # One mistake at a time: the first is named, as on the pages, so that both faces say the same.
    details = error.errors() if isinstance(error, RequestValidationError) else []
    first = details[0] if details else {"loc": (), "msg": "not understood"}
    # Where FastAPI looked for the field is of no use to the sender, its name is.
    field = ".".join(str(part) for part in first["loc"] if part not in {"body", "path", "query"})
    what = f"{field}: {first['msg']}" if field else str(first["msg"])
    remedy = (
        "Correct this field and send it again."
        if field
        else "Send what the page's form or the API describes."
    )
    return answer(request, 422, Problem(what=what, field=field, remedy=remedy))


def _too_much(request: Request, _: Exception) -> Response:
    return answer(request, 413, Problem(what=BODY_TOO_LARGE[0], remedy=BODY_TOO_LARGE[1]))


def _unforeseen(request: Request, error: Exception) -> Response:
    _log.error("unforeseen error at %s", request.url.path, exc_info=error)
    # True of every request: each writes in one transaction, which an error rolls back.
    what = "Something went wrong that should not have; nothing was changed"
    response = answer(
        request,
        500,
        Problem(what=what, remedy="Go back and try again; the terminal shows the details."),
    )
    # Starlette answers an unforeseen error outside all middleware, so the protective headers of
    # RequestLimits never reach this one.
    response.headers.update(HEADERS)
    return response


def install(app: FastAPI) -> None:
    """Give the application an answer to every error: NotFoundError 404, ConflictError 409.

    InputError and RequestValidationError 422, BodyTooLargeError 413, StoreError 503, any other 500.
    """
    # The most special first, for readers; Starlette itself looks for the nearest class.
    handlers = {
        NotFoundError: _missing,
        ConflictError: _conflict,
        StoreError: _store,
        CounterpoiseError: _input,
        HTTPException: _http,
        RequestValidationError: _invalid,
        BodyTooLargeError: _too_much,
        Exception: _unforeseen,
    }
    for kind, handler in handlers.items():
        app.add_exception_handler(kind, handler)

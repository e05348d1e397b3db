"""Every error as a plain page or as JSON: what, where, what to do."""

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

_log = logging.getLogger(__name__)
_ANSWERS = {
    404: ("There is no such page", "Go back to the list of jobs."),
    405: ("This address does not take that", "Go back and use the form on the page."),
}


class Problem(BaseModel):
    """What went wrong, in which field, and what to do about it."""

    what: str
    field: str = ""
    remedy: str = ""


def answer(request: Request, status: int, problem: Problem) -> Response:
    """The problem as the asker reads it: JSON under /api, a page elsewhere."""
    if request.url.path.startswith("/api"):
        return JSONResponse(problem.model_dump(), status)
    return page(request, "problem.html", status=status, problem=problem, code=status)


def refuse(scope: Scope, status: int, what: str, remedy: str) -> Response:
    """The guard's refusal as an answer."""
    return answer(Request(scope), status, Problem(what=what, remedy=remedy))


def _input(request: Request, error: Exception) -> Response:
    if isinstance(error, InputError):
        return answer(
            request, 422, Problem(what=error.message, field=error.field, remedy=error.remedy)
        )
    return answer(request, 422, Problem(what=str(error)))


def _conflict(request: Request, error: Exception) -> Response:
    what, _, remedy = str(error).partition(". ")
    return answer(
        request,
        409,
        Problem(what=what, field="last", remedy=remedy or "Reload the page, then put it down."),
    )


def _missing(request: Request, error: Exception) -> Response:
    return answer(request, 404, Problem(what=str(error), remedy="Go back to the list of jobs."))


def _store(request: Request, error: Exception) -> Response:
    _log.error("store: %s", error)
    return answer(
        request,
        503,
        Problem(what=str(error), remedy="Nothing was changed. Check the disk, then try again."),
    )


def _http(request: Request, error: Exception) -> Response:
    code = error.status_code if isinstance(error, HTTPException) else 500
    what, remedy = _ANSWERS.get(code, ("That did not work", "Go back and try again."))
    if code == 400:
        what, remedy = (
            "What was sent could not be read",
            "Go back, reload the page and send it again.",
        )
    return answer(request, code, Problem(what=what, remedy=remedy))


def _invalid(request: Request, error: Exception) -> Response:
    details = error.errors() if isinstance(error, RequestValidationError) else []
    first = details[0] if details else {"loc": (), "msg": "not understood"}
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
    what = "Something went wrong that should not have; nothing was changed"
    told = answer(
        request,
        500,
        Problem(what=what, remedy="Go back and try again; the terminal shows the details."),
    )
    told.headers.update(HEADERS)  # this answer is given outside the guard
    return told


def install(app: FastAPI) -> None:
    """Give the application its answers to every error."""
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

"""The workshop's pages and their JSON twins as one application."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import FastAPI, Response

from counterpoise.web import errors
from counterpoise.web.errors import Problem
from counterpoise.web.network.access import PhoneAccess
from counterpoise.web.network.patience import Patience
from counterpoise.web.network.signing import SignedIn
from counterpoise.web.pages.job import (
    bench,
    decision,
    donor,
    estimate,
    evidence,
    fit,
    machine,
    measure,
    now,
    quote,
    recording,
    sheet,
    twin,
)
from counterpoise.web.pages.job import phone_recording as capture
from counterpoise.web.pages.job import stock as job_stock
from counterpoise.web.pages.workshop import (
    families,
    guarantee,
    health,
    jobs,
    kept,
    learning,
    ledger,
    looks,
    people,
    phone,
    prices,
    settings,
    sign_in,
    stock,
    yard,
)
from counterpoise.web.readers_language import InReadersLanguage
from counterpoise.web.render import PRESS, SCRIPTS, STYLES, script, style
from counterpoise.web.request_limits import RequestLimits, loopback
from counterpoise.web.waiting import Waiting, Waits
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.services.workshop import Workshop

# In the order of matching: ``/jobs/new`` of the first must come before ``/jobs/{number}``.
_PAGES = (
    jobs, bench, now, machine, measure, recording, fit, capture, evidence, estimate, quote,
    decision, sheet, settings, yard, guarantee, learning, ledger, donor, twin, prices, stock,
    job_stock, families, phone, people, sign_in, kept, health, looks,
)  # fmt: skip
_MARK = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32">'
    '<rect x="3" y="2" width="26" height="28" rx="3" fill="#14171a"/>'
    '<circle cx="16" cy="18" r="8" fill="#fdfcf7"/>'
    '<path d="M16 18 22 13" stroke="#a5330c" stroke-width="3"/></svg>'
)
_DESCRIPTION = (
    "A machine comes in that shakes, knocks or will not turn; what to do now, why, what else it"
    " could be, what it is worth. An answer that takes longer than a moment comes as 202 with"
    " where to ask again (Location); ?wait=SECONDS waits for it."
)
# Every route can answer with each of these, so OpenAPI says it once for all of them.
_PROBLEMS = {code: {"model": Problem} for code in (400, 401, 403, 404, 409, 413, 422, 503)}


def create_app(
    workshop: Workshop,
    allowed: Callable[[str], bool] = loopback,
    phones: PhoneAccess | None = None,
    *,
    gated: bool = False,
    waits: Waits | None = None,
) -> FastAPI:
    """The application on a workshop.

    ``waits`` says how long an answer may take before its asker is told to wait, None for ever;
    ``allowed`` says which host names (lower case, without port) it answers to; ``phones`` how
    phones reach it, None where they cannot; ``gated`` that only phones that were let in may use it.
    """
    app = FastAPI(
        title="Counterpoise",
        description=_DESCRIPTION,
        # The interactive documentation loads scripts from elsewhere, which the policy of these
        # pages forbids.
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        # A redirect turns a POST into a GET in some browsers, and the form is lost without a
        # word.
        redirect_slashes=False,
        responses={code: dict(problem) for code, problem in _PROBLEMS.items()},
    )
    app.state.workshop, app.state.phones, app.state.gated = workshop, phones, gated
    # of one workshop there is one count, at whichever door somebody guesses
    app.state.patience = phones.patience if phones else Patience()
    for room in _PAGES:
        app.include_router(room.api)
        app.include_router(room.pages)
    for name in set(SCRIPTS) - {PRESS}:
        app.add_api_route(f"/{name}", _scripted(name), include_in_schema=False)
    _finish(app)
    app.add_middleware(InReadersLanguage)
    if waits is not None:
        app.add_middleware(Waiting, waits=waits)
    # Added last, run first: the limits see a request before the pairing does, and that one
    # before it is asked who it is.
    app.add_middleware(SignedIn, workshop=lambda: app.state.workshop, refuse=errors.refuse)
    if phones is not None and gated:
        app.add_middleware(phone.PairedOnly, phones=phones)
    app.add_middleware(RequestLimits, allowed=allowed, refuse=errors.refuse)
    return app


def create_trust_app(
    phones: PhoneAccess, settings: Callable[[], Settings], allowed: Callable[[str], bool]
) -> FastAPI:
    """The one page for a phone that does not trust the root yet: plain HTTP and nothing else.

    ``settings`` gives the workshop's name; ``allowed`` says which host names it answers to.
    """
    # Not even a description of the routes: whoever asks here has shown nothing yet.
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None, redirect_slashes=False)
    # gated: the page for a phone shows no codes, though none is let in here.
    app.state.phones, app.state.gated = phones, True
    app.add_api_route("/root.crt", phone.root_file, include_in_schema=False)
    app.add_api_route("/", phone.trusting(phones, settings), include_in_schema=False)
    _finish(app)
    app.add_middleware(RequestLimits, allowed=allowed, refuse=errors.refuse)
    return app


def _finish(app: FastAPI) -> None:
    """Give the pages their looks and their answers to every error."""
    for name in STYLES:
        app.add_api_route(f"/{name}", _styled(name), include_in_schema=False)
    app.add_api_route(f"/{PRESS}", _scripted(PRESS), include_in_schema=False)
    app.add_api_route("/mark.svg", _mark, include_in_schema=False)
    errors.install(app)


def _styled(name: str) -> Callable[[], Response]:
    def styled() -> Response:
        return Response(
            style(name),
            media_type="text/css",
            # A year: the address of a style sheet carries a mark that changes with it.
            headers={"cache-control": "public, max-age=31536000"},
        )

    return styled


def _scripted(name: str) -> Callable[[], Response]:
    def scripted() -> Response:
        # one script asks for the next by its plain name, so none may be taken from before an update
        return Response(
            script(name), media_type="text/javascript", headers={"cache-control": "no-cache"}
        )

    return scripted


def _mark() -> Response:
    return Response(
        _MARK, media_type="image/svg+xml", headers={"cache-control": "public, max-age=86400"}
    )

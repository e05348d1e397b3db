"""Somebody wrote in between, or a form is sent again with something else: both can be kept."""

from __future__ import annotations

from fastapi import Request, Response
from fastapi.responses import RedirectResponse
from starlette.datastructures import FormData, UploadFile

from counterpoise.errors import ConflictError
from counterpoise.web.form_marks import KEY, SHOWN_AT
from counterpoise.web.render import page
from counterpoise.web.sending.meanwhile import Meanwhile, entry_words, meanwhile
from counterpoise.web.sending.sent import SECRETS, Sent
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.writes import Written

SentForm = tuple[Sent, FormData]


def conflict_page(
    request: Request, workshop: Workshop, form: SentForm, error: ConflictError
) -> Response:
    """What was added meanwhile and by whom, with what was sent still there to be saved too (409).

    The same thing sent from two tabs is no conflict: it leads on to the job.
    """
    sent = form[0]
    if error.job and workshop.writes.same_since(error.job, error.since, sent.digest):
        return RedirectResponse(f"/jobs/{error.job}", 303)
    what, _, remedy = str(error).partition(". ")
    there = meanwhile(workshop, error)
    # The very key: nothing was written under it, and the button may be pressed twice.
    return _page(request, form, there, (what, remedy), _back(sent, error.job), keep_key=True)


def used_page(request: Request, workshop: Workshop, form: SentForm, before: Written) -> Response:
    """A form that was saved already comes again with something else in it (409)."""
    words = entry_words(workshop, before.job, before.entry) if before.job else ""
    last = workshop.jobs.get(before.job).entries[-1].number if before.job else None
    there = Meanwhile((words,) if words else (), "", last)
    what = "This form was saved already, and now it says something else"
    remedy = "If both are right, save this too; else leave it, and take back what was wrong"
    return _page(request, form, there, (what, remedy), _back(form[0], before.job), keep_key=False)


def _back(sent: Sent, job: int) -> str:
    return f"/jobs/{job}" if job else sent.shown_at or "/jobs"


def _page(
    request: Request,
    form: SentForm,
    there: Meanwhile,
    words: tuple[str, str],
    back: str,
    *,
    keep_key: bool,
) -> Response:
    sent, posted = form
    # A browser sends no file twice by itself, so files are asked for again.
    own = {SHOWN_AT, "last", KEY, *SECRETS}
    fields = [
        (name, value)
        for name, value in posted.multi_items()
        if isinstance(value, str) and name not in own and value
    ]
    files = {
        name
        for name, value in posted.multi_items()
        if isinstance(value, UploadFile) and value.filename
    }
    return page(
        request,
        "conflict.html",
        status=409,
        what=words[0],
        remedy=words[1],
        there=there,
        fields=fields,
        files=sorted(files),
        action=request.url.path,
        key=sent.key if keep_key else "",
        back=back,
    )

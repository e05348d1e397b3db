"""What was seen and recorded of a job's machine, for its sheet: photos, and the last spin."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import replace
from io import BytesIO

from counterpoise.report.figures.chart import FILE_PX
from counterpoise.report.paper.sheet import Sheet, SheetCurve
from counterpoise.report.views.job import JobView
from counterpoise.report.views.recording import recording_chart
from counterpoise.workshop.jobs.entries import Job, Proof
from counterpoise.workshop.services.spin_evidence import Role, latest_before, spin_evidence
from counterpoise.workshop.services.workshop import Workshop

_LONG_SIDE, _QUALITY = 900, 78  # a photo on half a page; the whole one stays with the job


def with_curve(sheet: Sheet, view: JobView, workshop: Workshop, *, drawn: str = "paper") -> Sheet:
    """The sheet with the last recorded spin, before and after over each other where both are there.

    ``drawn``: for "paper", for a "page", or empty for the words alone. Raises RecordingError.
    """
    recording, role = _last_spin(view.job)
    if not recording:
        return sheet
    evidence = spin_evidence(workshop, view.job.number, recording, role)
    # both in one figure only where there is one from before
    before = role == "after" and bool(latest_before(view.job))
    curve = SheetCurve(
        "The recorded spin, before and after" if before else "The recorded spin",
        # after a repair what counts is whether it runs true, else what the spin points to
        view.family.body.spoken(evidence.proof.sentence if evidence.proof else evidence.sentence),
        str(recording_chart(workshop, evidence, FILE_PX if drawn == "paper" else None))
        if drawn
        else "",
    )
    return replace(sheet, curve=curve)


def _last_spin(job: Job) -> tuple[str, Role]:
    """The recording to draw and its role: that of the last proof, else the last from before."""
    proofs = (e.body for e in reversed(job.standing) if isinstance(e.body, Proof))
    after = next((proof.recording for proof in proofs if proof.recording), "")
    return (after, "after") if after else (latest_before(job), "before")


def photos_of(sheet: Sheet, workshop: Workshop) -> dict[str, bytes]:
    """The photos of a sheet by their ids, as JPEG small enough to be printed and mailed."""
    # a sheet without photos needs no picture library
    from PIL import Image

    # photos are kept clean and upright already: here they are only made smaller
    small: dict[str, bytes] = {}
    for photo in sheet.photos:
        picture = Image.open(BytesIO(workshop.photos.get(photo.id)))
        picture.thumbnail((_LONG_SIDE, _LONG_SIDE))
        out = BytesIO()
        picture.save(out, "JPEG", quality=_QUALITY)
        small[photo.id] = out.getvalue()
    return small


def data_addresses(photos: Mapping[str, bytes]) -> dict[str, str]:
    """Photos by id as addresses that carry the picture themselves."""
    return {
        key: f"data:image/jpeg;base64,{base64.b64encode(data).decode()}"
        for key, data in photos.items()
    }

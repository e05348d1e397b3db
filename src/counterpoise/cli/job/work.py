"""What was done at the bench: findings, repairs, the proof spin, remarks, photos."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import hand, workshop_command
from counterpoise.cli.job.options import (
    BY,
    LAST,
    MINUTES,
    NOTE,
    NUMBER,
    PHOTO,
    record_entry,
    say_recorded,
)
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import Finding, Note, Proof, RepairDone

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop


@click.command("record")
@NUMBER
@click.argument("check")
@click.argument("outcome", default="")
@click.option(
    "--reading", type=float, default=None, help="The number read, where the check asks for one."
)
@click.option("--reading-sd", type=float, default=None, help="Its error, if not the usual one.")
@MINUTES
@NOTE
@PHOTO
@BY
@LAST
@workshop_command
def record(
    workshop: Workshop,
    number: int,
    check: str,
    outcome: str,
    *,
    tell: bool,
    photos: tuple[str, ...],
    **more: Any,
) -> Any:
    """Put down what CHECK showed: OUTCOME is one of its answers, could_not_tell, or cannot_reach."""
    if not outcome and more["reading"] is None:
        raise InputError(
            "outcome: is missing",
            field="outcome",
            remedy="Give one of the check's answers or --reading.",
        )
    body = Finding(
        check=check,
        outcome=outcome,
        reading=more["reading"],
        reading_sd=more["reading_sd"],
        minutes=more["minutes"],
        note=more["note"],
        photos=_photos(workshop, number, photos),
    )
    return record_entry(workshop, number, body, tell, more)


@click.command("repair")
@NUMBER
@click.argument("repair")
@click.option(
    "--from-shelf",
    "lots",
    multiple=True,
    metavar="LOT[:PIECES]",
    help="Pieces of a lot that were used.",
)
@MINUTES
@NOTE
@PHOTO
@BY
@LAST
@workshop_command
def repair(
    workshop: Workshop, number: int, *, tell: bool, photos: tuple[str, ...], **more: Any
) -> Any:
    """Put REPAIR down as done."""
    body = RepairDone(
        more["repair"], more["minutes"], more["note"], _photos(workshop, number, photos)
    )
    taken = [_taking(text) for text in more["lots"]]
    entry = workshop.jobs.record(
        number, body, by=hand(more["by"]), expected_last=more["expected_last"], taken=taken
    )
    return say_recorded(workshop, number, entry.number, tell)


def _taking(text: str) -> tuple[int, int]:
    """``12:2``: two pieces of lot 12."""
    lot, _, count = text.partition(":")
    if not (lot.isdecimal() and (count or "1").isdecimal()):
        raise InputError(
            f"from_shelf: {text[:40]} is no lot",
            field="from_shelf",
            remedy="Write it like 12 or 12:2.",
        )
    return int(lot), int(count or 1)


@click.command("proof")
@NUMBER
@click.option(
    "--passed/--failed", "passed", default=None, required=True, help="It runs true, or it does not."
)
@MINUTES
@NOTE
@BY
@LAST
@workshop_command
def proof(workshop: Workshop, number: int, *, tell: bool, **more: Any) -> Any:
    """Put down how the proof spin went."""
    return record_entry(
        workshop, number, Proof(more["passed"], more["minutes"], more["note"]), tell, more
    )


@click.command("note")
@NUMBER
@click.argument("text")
@click.option(
    "--parts-due", default="", metavar="DAY", help="Parts are on order, expected on this day."
)
@PHOTO
@BY
@LAST
@workshop_command
def note(
    workshop: Workshop, number: int, *, tell: bool, photos: tuple[str, ...], **more: Any
) -> Any:
    """Put down a remark that belongs to no check."""
    body = Note(more["text"], _photos(workshop, number, photos), parts_due=more["parts_due"])
    return record_entry(workshop, number, body, tell, more)


@click.command("photo")
@NUMBER
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False))
@click.option("--text", default="", help="What it shows.")
@BY
@LAST
@workshop_command
def photo(
    workshop: Workshop, number: int, *, tell: bool, files: tuple[str, ...], **more: Any
) -> Any:
    """Keep photos with the job; where they were taken is removed from them."""
    return record_entry(
        workshop, number, Note(more["text"], _photos(workshop, number, files)), tell, more
    )


def _photos(workshop: Workshop, number: int, files: tuple[str, ...]) -> tuple[str, ...]:
    workshop.jobs.get(number)
    return tuple(workshop.photos.add(Path(file).read_bytes()) for file in files)

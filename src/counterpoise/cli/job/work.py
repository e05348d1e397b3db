"""What was done at the bench: findings, repairs, the proof spin, remarks, photos."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import hand, money, writing_command
from counterpoise.cli.job.options import (
    ACKNOWLEDGED,
    BY,
    LAST,
    MINUTES,
    NOTE,
    NUMBER,
    PHOTO,
    Sender,
    Work,
    record_entry,
    recorded_entry,
)
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import Finding, Note, Proof, RepairDone

if TYPE_CHECKING:
    from typing import Unpack

    from counterpoise.report.views.job import Recorded
    from counterpoise.workshop.services.workshop import Workshop


@click.command(
    "record",
    help="Save what CHECK showed: OUTCOME is one of its answers, could_not_tell, or cannot_reach.",
)
@NUMBER
@click.argument("check")
@click.argument("outcome", default="")
@click.option(
    "--reading", type=float, default=None, help="The number read, where the check asks for one."
)
# the catalog knows the usual error of an instrument; this one may be better or worse
@click.option("--reading-sd", type=float, default=None, help="Its error, if not the usual one.")
@MINUTES
@NOTE
@PHOTO
@ACKNOWLEDGED
@BY
@LAST
@writing_command
def record(
    workshop: Workshop, number: int, check: str, outcome: str, *, in_words: bool,
    reading: float | None, reading_sd: float | None, photos: tuple[str, ...], acknowledged: bool,
    **work: Unpack[Work],
) -> Recorded:  # fmt: skip
    """Record a finding; ``reading`` in the unit of the check. Raises InputError, ReadingError."""
    # a check is answered by a word or by a number; neither says nothing
    if not outcome and reading is None:
        raise InputError(
            "outcome: is missing",
            field="outcome",
            remedy="Give one of the check's answers or --reading.",
        )
    body = Finding(
        check=check,
        outcome=outcome,
        reading=reading,
        reading_sd=reading_sd,
        minutes=work["minutes"],
        note=work["note"],
        photos=_photos(workshop, number, photos),
        acknowledged=acknowledged,
    )
    return record_entry(workshop, number, body, in_words, work)


@click.command("repair", help="Put REPAIR down as done.")
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
@ACKNOWLEDGED
@BY
@LAST
@writing_command
def repair(
    workshop: Workshop, number: int, *, in_words: bool, repair: str, lots: tuple[str, ...],
    photos: tuple[str, ...], acknowledged: bool, **work: Unpack[Work],
) -> Recorded:  # fmt: skip
    """Record a repair with the pieces it took. Raises InputError; then nothing is stored."""
    kept = _photos(workshop, number, photos)
    body = RepairDone(repair, work["minutes"], work["note"], kept, acknowledged)
    # with the entry, not after it: either both are stored or neither is
    entry = workshop.jobs.record(
        number,
        body,
        by=hand(work["by"]),
        expected_last=work["expected_last"],
        taken=[_lot_and_pieces(text) for text in lots],
    )
    return recorded_entry(workshop, number, entry.number, in_words)


def _lot_and_pieces(text: str) -> tuple[int, int]:
    # "12:2" is two pieces of lot 12, "12" is one
    lot, _, count = text.partition(":")
    if not (lot.isdecimal() and (count or "1").isdecimal()):
        raise InputError(
            f"from_shelf: {text[:40]} is no lot",
            field="from_shelf",
            remedy="Write it like 12 or 12:2.",
        )
    return int(lot), int(count or 1)


@click.command("proof", help="Save how the proof spin went.")
@NUMBER
@click.option(
    "--passed/--failed", "passed", default=None, help="It ran true, or it is still not right."
)
@MINUTES
@NOTE
@ACKNOWLEDGED
@BY
@LAST
@writing_command
def proof(
    workshop: Workshop, number: int, *, in_words: bool, passed: bool | None, acknowledged: bool,
    **work: Unpack[Work],
) -> Recorded:  # fmt: skip
    """Record a proof spin; minutes None where not known. Raises InputError, ConflictError."""
    # asked here and not by the command line, which would not say what either means
    if passed is None:
        raise InputError(
            "passed: how did it go?",
            field="passed",
            remedy="Give --passed where it ran true, --failed where it is still not right.",
        )
    # a proof spin moves the belief like any check: it can miss a fault, and says how often
    body = Proof(passed, work["minutes"], work["note"], acknowledged=acknowledged)
    return record_entry(workshop, number, body, in_words, work)


@click.command("note", help="Save a remark that belongs to no check.")
@NUMBER
@click.argument("text")
@click.option(
    "--parts-due", default="", metavar="DAY", help="Parts are on order, expected on this day."
)
@click.option(
    "--new-machine",
    default="",
    metavar="AMOUNT",
    help="What a comparable new machine costs: from then on this job is calculated with it.",
)
@click.option(
    "--language", default="", metavar="CODE", help="Language of the owner's papers from now on."
)
@PHOTO
@BY
@LAST
@writing_command
def note(
    workshop: Workshop, number: int, *, in_words: bool, text: str, parts_due: str,
    new_machine: str, language: str, photos: tuple[str, ...], **sender: Unpack[Sender],
) -> Recorded:  # fmt: skip
    """Record a remark, with the day parts are due or a price, or empty. Raises InputError."""
    # a day in parts_due takes the machine off the bench's list until then
    price = money(new_machine, "new_machine")
    kept = _photos(workshop, number, photos)
    body = Note(text, kept, parts_due=parts_due, new_machine_minor=price, language=language)
    return record_entry(workshop, number, body, in_words, sender)


@click.command(
    "photo", help="Keep photos with the job; where they were taken is removed from them."
)
@NUMBER
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False))
@click.option("--text", default="", help="What it shows.")
@BY
@LAST
@writing_command
def photo(
    workshop: Workshop, number: int, *, in_words: bool, files: tuple[str, ...], text: str,
    **sender: Unpack[Sender],
) -> Recorded:  # fmt: skip
    """Keep photos and record them in one remark. Raises InputError for what is no photo."""
    body = Note(text, _photos(workshop, number, files))
    return record_entry(workshop, number, body, in_words, sender)


def _photos(workshop: Workshop, number: int, files: tuple[str, ...]) -> tuple[str, ...]:
    # asked first, so that no photo is kept for a job that is not there
    workshop.jobs.get(number)
    return tuple(workshop.photos.add(Path(file).read_bytes()) for file in files)

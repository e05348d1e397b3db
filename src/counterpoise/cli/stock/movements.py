"""What happens to a lot: counted, moved, reserved, used, written off, and undone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import hand, writing_command
from counterpoise.cli.stock.lots import moved_lot
from counterpoise.cli.stock.options import BY, COUNT, LOT, NOTE

if TYPE_CHECKING:
    from counterpoise.money.shelf import MovementKind
    from counterpoise.workshop.parts.stock import Lot
    from counterpoise.workshop.services.workshop import Workshop

_JOB = click.option("--job", type=int, required=True, metavar="JOB", help="For which job.")


@click.command("count", help="Save that there are THERE pieces of LOT.")
@LOT
@click.argument("there", type=int)
@NOTE
@BY
@writing_command
def count(workshop: Workshop, lot: int, there: int, *, in_words: bool, note: str, by: str) -> Lot:
    """The lot as counted. Raises InputError, NotFoundError."""
    return _move(workshop, lot, "counted", in_words, by, count=there, note=note)


@click.command("move", help="Save that LOT lies in PLACE now.")
@LOT
@click.argument("place")
@NOTE
@BY
@writing_command
def move(workshop: Workshop, lot: int, place: str, *, in_words: bool, note: str, by: str) -> Lot:
    """The lot at its new place. Raises InputError, NotFoundError."""
    return _move(workshop, lot, "moved", in_words, by, place=place, note=note)


@click.command("write-off", help="Save that pieces of LOT are no good.")
@LOT
@COUNT
@NOTE
@BY
@writing_command
def write_off(
    workshop: Workshop, lot: int, *, in_words: bool, by: str, count: int, note: str
) -> Lot:
    """The lot without the pieces written off. Raises InputError, NotFoundError."""
    return _move(workshop, lot, "written_off", in_words, by, count=count, note=note)


def _for_a_job(name: str, kind: MovementKind, text: str) -> click.Command:
    # three commands that differ in one word only

    @click.command(name, help=text)
    @LOT
    @_JOB
    @COUNT
    @NOTE
    @BY
    @writing_command
    def command(
        workshop: Workshop, lot: int, *, in_words: bool, by: str, job: int, count: int, note: str
    ) -> Lot:
        return _move(workshop, lot, kind, in_words, by, job=job, count=count, note=note)

    made: click.Command = command
    return made


@click.command("undo", help="Undo MOVEMENT (its number is in `stock show`) by its opposite.")
@click.argument("movement", type=int)
@BY
@writing_command
def undo(workshop: Workshop, movement: int, *, in_words: bool, by: str) -> Lot:
    """The lot as it was before the movement. Raises NotFoundError, ConflictError."""
    return moved_lot(workshop, workshop.stock.undo(movement, hand(by)), in_words)


def _move(
    workshop: Workshop, lot: int, kind: MovementKind, in_words: bool, by: str, *,
    count: int = 0, job: int | None = None, place: str = "", note: str = "",
) -> Lot:  # fmt: skip
    from counterpoise.workshop.parts.stock import Move

    movement = Move(lot, kind, count, job, place, note)
    return moved_lot(workshop, workshop.stock.move(movement, hand(by)), in_words)


COMMANDS = (
    count,
    move,
    write_off,
    undo,
    _for_a_job("reserve", "reserved", "Reserve pieces of LOT for a job."),
    _for_a_job("release", "released", "Let go of pieces of LOT that are reserved for a job."),
    _for_a_job(
        "use",
        "used",
        "Take pieces of LOT for a job; with its repair, `job repair --from-shelf` does it at once.",
    ),
)

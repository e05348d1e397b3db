"""``counterpoise stock``: what lies on the shelf, what came in, what it was used for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import hand, workshop_command
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.workshop.parts.stock import Lot
    from counterpoise.workshop.services.workshop import Workshop

_BY = click.option("--by", default="", help="Who does it; without it, the user of this machine.")
_LOT = click.argument("lot", type=int)
_COUNT = click.option("--count", default=1, show_default=True, help="How many pieces.")
_NOTE = click.option("--note", default="", help="A remark.")
_JOB = click.option("--job", type=int, required=True, metavar="JOB", help="For which job.")


@click.group()
def stock() -> None:
    """The shelf: parts that lie there, and what happened to them. PART is like front_loader/drain_pump."""


@stock.command("list")
@workshop_command
def list_stock(workshop: Workshop, *, tell: bool) -> Any:
    """List what lies on the shelf."""
    from counterpoise.cli.job.show import console, say
    from counterpoise.report.views.stock import KINDS

    found = workshop.stock.items()
    for one in found if tell else ():
        free = f", {one.free} free" if one.free != one.pieces else ""
        kinds, places = ", ".join(KINDS[kind] for kind in one.kinds), ", ".join(one.places)
        console().print(
            say(f"{one.pieces:3d}{free}  {one.title} ({one.family}/{one.item}): {kinds}; {places}")
        )
    if tell and not found:
        click.echo("Nothing lies on the shelf.")
    return found


@stock.command("show")
@click.argument("part")
@workshop_command
def show(workshop: Workshop, part: str, *, tell: bool) -> Any:
    """Show the lots of PART, its prices, and what happened to it."""
    from counterpoise.cli.job.show import console, say
    from counterpoise.report.views.stock import movement_words
    from counterpoise.report.words.numbers import money

    found = workshop.stock.item(*_part(part))
    screen = console()
    screen.print(say(found.title, "bold")) if tell else None
    for lot in found.lots if tell else ():
        screen.print(say(_told(lot, found.currency)))
    for price in [one for one in found.prices if one.stands] if tell else ():
        pack = f" for {price.line.pack}" if price.line.pack > 1 else ""
        asked, maker = money(price.line.price_minor, found.currency), price.line.maker
        screen.print(
            say(
                f"{price.supplier}, {price.at[:10]}: {price.line.kind} {asked}{pack} {maker}".rstrip()
            )
        )
    for movement in found.movements if tell else ():
        said = f"lot {movement.lot}: {movement_words(movement)}{' (undone)' if movement.undone else ''}"
        screen.print(say(f"  {movement.number}  {movement.at[:10]}  {said}", "dim"))
    return found


@stock.command("receive")
@click.argument("part")
@_COUNT
@click.option(
    "--kind",
    type=click.Choice(["new", "pattern", "used"]),
    default="new",
    show_default=True,
    help="Kind.",
)
@click.option("--place", default="", help="Where it lies, like B2.")
@click.option("--cost", default="", metavar="AMOUNT", help="What one cost.")
@click.option(
    "--asked",
    default="",
    metavar="AMOUNT",
    help="What a customer is asked for one, before mark-up and tax.",
)
@click.option("--maker", default="", help="Whose machines it fits; without it, any.")
@click.option("--model", default="", help="Model it fits.")
@_NOTE
@_BY
@workshop_command
def receive(
    workshop: Workshop, part: str, *, tell: bool, by: str, cost: str, asked: str, **told: Any
) -> Any:
    """Put pieces of PART on the shelf."""
    from counterpoise.report.words.numbers import read_money
    from counterpoise.workshop.parts.stock import Receipt

    receipt = Receipt(
        *_part(part), cost_minor=read_money(cost, "cost") if cost else 0,
        asked_minor=read_money(asked, "asked") if asked else None, **told,
    )  # fmt: skip
    return _tell(workshop, workshop.stock.receive(receipt, hand(by)), tell)


@stock.command("count")
@_LOT
@click.argument("there", type=int)
@_NOTE
@_BY
@workshop_command
def count(workshop: Workshop, lot: int, there: int, *, tell: bool, note: str, by: str) -> Any:
    """Put down that there are THERE pieces of LOT."""
    return _move(workshop, lot, "counted", tell, by, count=there, note=note)


@stock.command("move")
@_LOT
@click.argument("place")
@_NOTE
@_BY
@workshop_command
def move(workshop: Workshop, lot: int, place: str, *, tell: bool, note: str, by: str) -> Any:
    """Put down that LOT lies in PLACE now."""
    return _move(workshop, lot, "moved", tell, by, place=place, note=note)


@stock.command("write-off")
@_LOT
@_COUNT
@_NOTE
@_BY
@workshop_command
def write_off(workshop: Workshop, lot: int, *, tell: bool, by: str, **told: Any) -> Any:
    """Put down that pieces of LOT are no good."""
    return _move(workshop, lot, "written_off", tell, by, **told)


def _for_a_job(name: str, kind: str, said: str) -> None:
    """Make the command that puts down what pieces of a lot have to do with a job."""

    @stock.command(name, help=said)
    @_LOT
    @_JOB
    @_COUNT
    @_NOTE
    @_BY
    @workshop_command
    def command(workshop: Workshop, lot: int, *, tell: bool, by: str, **told: Any) -> Any:
        return _move(workshop, lot, kind, tell, by, **told)


_for_a_job("reserve", "reserved", "Reserve pieces of LOT for a job.")
_for_a_job("release", "released", "Let go of pieces of LOT that are reserved for a job.")
_for_a_job(
    "use",
    "used",
    "Take pieces of LOT for a job; with its repair, `job repair --from-shelf` does it at once.",
)


@stock.command("undo")
@click.argument("movement", type=int)
@_BY
@workshop_command
def undo(workshop: Workshop, movement: int, *, tell: bool, by: str) -> Any:
    """Undo MOVEMENT (its number is in `stock show`) by its opposite."""
    return _tell(workshop, workshop.stock.undo(movement, hand(by)), tell)


@stock.command("shelve")
@click.argument("job", type=int)
@click.argument("pieces", nargs=-1, metavar="PART[=PIECES]...")
@click.option("--place", default="", help="Where they lie, like B2.")
@_BY
@workshop_command
def shelve(
    workshop: Workshop, job: int, pieces: tuple[str, ...], *, tell: bool, place: str, by: str
) -> Any:
    """Put PARTs off the machine of JOB on the shelf; without any, all that are worth keeping."""
    from counterpoise.report.views.donor import donor
    from counterpoise.report.views.job import job_view

    counts = {
        name: _whole(number or "1") for name, _, number in (text.partition("=") for text in pieces)
    }
    chosen = counts or {one.item: 1 for one in donor(job_view(workshop, job)).pieces if one.keep}
    found = workshop.stock.put_on_shelf(job, chosen, place, hand(by))
    for lot in found:
        _tell(workshop, lot, tell)
    return found


@stock.command("label")
@_LOT
@click.argument("file", type=click.Path(dir_okay=False))
@click.option(
    "--address",
    default="",
    help="Where the lot can be looked up; put on the label as a code to scan.",
)
@workshop_command
def label(workshop: Workshop, lot: int, file: str, *, tell: bool, address: str) -> Any:
    """Write the label of LOT to FILE (PDF)."""
    from counterpoise.report.paper.pdf import labels_pdf
    from counterpoise.report.views.stock import lot_label

    made = labels_pdf(lot_label(workshop, workshop.stock.book().lot(lot)), address)
    try:
        Path(file).write_bytes(made)
    except OSError as error:
        raise InputError(
            f"{file}: {error.strerror}", field="file", remedy="Give another file."
        ) from error
    if tell:
        click.echo(f"Wrote {file}")
    return {"file": file}


def _part(text: str) -> tuple[str, str]:
    family, slash, item = text.partition("/")
    return (family, item) if slash else ("front_loader", family)


def _whole(text: str) -> int:
    if not text.isdecimal():
        raise InputError(
            f"pieces: {text[:40]} is no number", field="pieces", remedy="Write it like foot=4."
        )
    return int(text)


def _move(workshop: Workshop, lot: int, kind: Any, tell: bool, by: str, **told: Any) -> Any:
    from counterpoise.workshop.parts.stock import Move

    return _tell(workshop, workshop.stock.move(Move(lot, kind, **told), hand(by)), tell)


def _tell(workshop: Workshop, lot: Lot, tell: bool) -> Lot:
    from counterpoise.cli.job.show import console, say

    if tell:
        title = workshop.families.title_of(lot.family, lot.item)
        console().print(say(f"{title}: {_told(lot, workshop.settings().currency)}"))
    return lot


def _told(lot: Lot, currency: str) -> str:
    from counterpoise.report.views.stock import KINDS, origin_words
    from counterpoise.report.words.numbers import money

    held = ", ".join(f"{pieces} reserved for job {job}" for job, pieces in lot.held)
    place = f"in {lot.place}" if lot.place else ""
    said = [f"lot {lot.number}: {lot.pieces} {KINDS[lot.kind]}", place, origin_words(lot), held]
    return (
        f"{', '.join(text for text in said if text)}; cost {money(lot.cost_minor, currency)} each"
    )

"""``counterpoise stock``: what lies on the shelf, what came in, what it was used for."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict, Unpack

import click

from counterpoise.cli.common import hand, money, workshop_command
from counterpoise.cli.terminal import console, say, write_file
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.money.order import Quality
    from counterpoise.money.shelf import MovementKind
    from counterpoise.workshop.parts.stock import Lot
    from counterpoise.workshop.services.stock import ItemSheet, StockItem
    from counterpoise.workshop.services.workshop import Workshop

_BY = click.option("--by", default="", help="Who does it; without it, the user of this machine.")
_LOT = click.argument("lot", type=int)
_COUNT = click.option("--count", default=1, show_default=True, help="How many pieces.")
_NOTE = click.option("--note", default="", help="A remark.")
_JOB = click.option("--job", type=int, required=True, metavar="JOB", help="For which job.")


class _Pieces(TypedDict):
    """What is received: kind, how many, where they lie, whose machines they fit."""

    kind: Quality
    count: int
    place: str
    maker: str
    model: str
    note: str


@click.group(
    help=(
        "The shelf: parts that lie there, and what happened to them. PART is like "
        "front_loader/drain_pump."
    )
)
def stock() -> None:
    """The shelf; a part is named family/part, of a front loader without family."""


@stock.command("list")
@workshop_command
def list_stock(workshop: Workshop, *, in_words: bool) -> tuple[StockItem, ...]:
    """List what lies on the shelf."""
    from counterpoise.report.views.stock import KINDS

    items = workshop.stock.items()
    for item in items if in_words else ():
        free = f", {item.free} free" if item.free != item.pieces else ""
        kinds, places = ", ".join(KINDS[kind] for kind in item.kinds), ", ".join(item.places)
        where = f"({item.family}/{item.item}): {kinds}; {places}"
        console().print(say(f"{item.pieces:3d}{free}  {item.title} {where}"))
    if in_words and not items:
        click.echo("Nothing lies on the shelf.")
    return items


@stock.command("show")
@click.argument("part")
@workshop_command
def show(workshop: Workshop, part: str, *, in_words: bool) -> ItemSheet:
    """Show the lots of PART, its prices, and what happened to it."""
    sheet = workshop.stock.item(*_part(part))
    if in_words:
        _print_item(sheet)
    return sheet


def _print_item(sheet: ItemSheet) -> None:
    from counterpoise.report.views.stock import movement_words
    from counterpoise.report.words.numbers import money as amount

    screen = console()
    screen.print(say(sheet.title, "bold"))
    for lot in sheet.lots:
        screen.print(say(_lot_line(lot, sheet.currency)))
    # former prices are for the page; at the bench what stands is enough
    for price in [price for price in sheet.prices if price.stands]:
        line = price.line
        pack = f" for {line.pack}" if line.pack > 1 else ""
        asked = f"{line.kind} {amount(line.price_minor, sheet.currency)}{pack} {line.maker}"
        screen.print(say(f"{price.supplier}, {price.at[:10]}: {asked}".rstrip()))
    for movement in sheet.movements:
        undone = " (undone)" if movement.undone else ""
        text = f"lot {movement.lot}: {movement_words(movement)}{undone}"
        screen.print(say(f"  {movement.number}  {movement.at[:10]}  {text}", "dim"))


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
    workshop: Workshop, part: str, *, in_words: bool, by: str, cost: str, asked: str,
    **pieces: Unpack[_Pieces],
) -> Lot:  # fmt: skip
    """Put pieces of PART on the shelf."""
    from counterpoise.workshop.parts.stock import Receipt

    receipt = Receipt(
        *_part(part),
        cost_minor=money(cost, "cost") or 0,
        # not given is not nothing: without it the catalog's price of a used one is asked
        asked_minor=money(asked, "asked"),
        **pieces,
    )
    return _moved(workshop, workshop.stock.receive(receipt, hand(by)), in_words)


@stock.command("count")
@_LOT
@click.argument("there", type=int)
@_NOTE
@_BY
@workshop_command
def count(workshop: Workshop, lot: int, there: int, *, in_words: bool, note: str, by: str) -> Lot:
    """Put down that there are THERE pieces of LOT."""
    return _move(workshop, lot, "counted", in_words, by, count=there, note=note)


@stock.command("move")
@_LOT
@click.argument("place")
@_NOTE
@_BY
@workshop_command
def move(workshop: Workshop, lot: int, place: str, *, in_words: bool, note: str, by: str) -> Lot:
    """Put down that LOT lies in PLACE now."""
    return _move(workshop, lot, "moved", in_words, by, place=place, note=note)


@stock.command("write-off")
@_LOT
@_COUNT
@_NOTE
@_BY
@workshop_command
def write_off(
    workshop: Workshop, lot: int, *, in_words: bool, by: str, count: int, note: str
) -> Lot:
    """Put down that pieces of LOT are no good."""
    return _move(workshop, lot, "written_off", in_words, by, count=count, note=note)


def _for_a_job(name: str, kind: MovementKind, text: str) -> None:
    # three commands that differ in one word only

    @stock.command(name, help=text)
    @_LOT
    @_JOB
    @_COUNT
    @_NOTE
    @_BY
    @workshop_command
    def command(
        workshop: Workshop, lot: int, *, in_words: bool, by: str, job: int, count: int, note: str
    ) -> Lot:
        return _move(workshop, lot, kind, in_words, by, job=job, count=count, note=note)


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
def undo(workshop: Workshop, movement: int, *, in_words: bool, by: str) -> Lot:
    """Undo MOVEMENT (its number is in `stock show`) by its opposite."""
    return _moved(workshop, workshop.stock.undo(movement, hand(by)), in_words)


@stock.command("shelve")
@click.argument("job", type=int)
@click.argument("pieces", nargs=-1, metavar="PART[=PIECES]...")
@click.option("--place", default="", help="Where they lie, like B2.")
@_BY
@workshop_command
def shelve(
    workshop: Workshop, job: int, pieces: tuple[str, ...], *, in_words: bool, place: str, by: str
) -> tuple[Lot, ...]:
    """Put PARTs off the machine of JOB on the shelf; without any, all that are worth keeping."""
    from counterpoise.report.views.donor import donor
    from counterpoise.report.views.job import job_view

    split = [text.partition("=") for text in pieces]
    counts = {name: _whole(number or "1") for name, _, number in split}
    if not counts:
        counts = {part.item: 1 for part in donor(job_view(workshop, job)).pieces if part.keep}
    lots = workshop.stock.put_on_shelf(job, counts, place, hand(by))
    for lot in lots:
        _moved(workshop, lot, in_words)
    return lots


@stock.command("label")
@_LOT
@click.argument("file", type=click.Path(dir_okay=False))
@click.option(
    "--address",
    default="",
    help="Where the lot can be looked up; put on the label as a code to scan.",
)
@workshop_command
def label(
    workshop: Workshop, lot: int, file: str, *, in_words: bool, address: str
) -> dict[str, str]:
    """Write the label of LOT to FILE (PDF)."""
    from counterpoise.report.paper.pdf import labels_pdf
    from counterpoise.report.views.stock import lot_label

    stuck_on = lot_label(workshop, workshop.stock.book().lot(lot))
    write_file(file, labels_pdf(stuck_on, address))
    if in_words:
        click.echo(f"Wrote {file}")
    return {"file": file}


def _part(text: str) -> tuple[str, str]:
    # most workshops know front loaders only, so their family need not be typed
    family, slash, item = text.partition("/")
    return (family, item) if slash else ("front_loader", family)


def _whole(text: str) -> int:
    if not text.isdecimal():
        raise InputError(
            f"pieces: {text[:40]} is no number", field="pieces", remedy="Write it like foot=4."
        )
    return int(text)


def _move(
    workshop: Workshop, lot: int, kind: MovementKind, in_words: bool, by: str, *,
    count: int = 0, job: int | None = None, place: str = "", note: str = "",
) -> Lot:  # fmt: skip
    from counterpoise.workshop.parts.stock import Move

    movement = Move(lot, kind, count, job, place, note)
    return _moved(workshop, workshop.stock.move(movement, hand(by)), in_words)


def _moved(workshop: Workshop, lot: Lot, in_words: bool) -> Lot:
    """The lot as it lies now, printed where ``in_words``."""
    if in_words:
        title = workshop.families.title_of(lot.family, lot.item)
        console().print(say(f"{title}: {_lot_line(lot, workshop.settings().currency)}"))
    return lot


def _lot_line(lot: Lot, currency: str) -> str:
    from counterpoise.report.views.stock import KINDS, origin_words
    from counterpoise.report.words.numbers import money as amount

    held = ", ".join(f"{pieces} reserved for job {job}" for job, pieces in lot.held)
    place = f"in {lot.place}" if lot.place else ""
    parts = [f"lot {lot.number}: {lot.pieces} {KINDS[lot.kind]}", place, origin_words(lot), held]
    return (
        f"{', '.join(text for text in parts if text)}; cost {amount(lot.cost_minor, currency)} each"
    )

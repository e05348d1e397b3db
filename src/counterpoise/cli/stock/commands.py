"""``counterpoise stock``: what lies on the shelf, what came in, what it was used for."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict, Unpack

import click

from counterpoise.cli.common import hand, money, workshop_command, writing_command
from counterpoise.cli.stock import movements
from counterpoise.cli.stock.lots import lot_line, moved_lot
from counterpoise.cli.stock.options import BY, COUNT, LOT, NOTE
from counterpoise.cli.terminal import console, say, write_file
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.money.order import Quality
    from counterpoise.workshop.parts.stock import Lot
    from counterpoise.workshop.services.stock import ItemSheet, StockItem
    from counterpoise.workshop.services.workshop import Workshop


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
        "The shelf: parts that lie there, and what happened to them. PART is FAMILY/ID, or ID "
        "alone where one family has it."
    )
)
def stock() -> None:
    """The shelf; a part is named family/part, or by its id alone."""


@stock.command("list", help="List what lies on the shelf.")
@workshop_command
def list_stock(workshop: Workshop, *, in_words: bool) -> tuple[StockItem, ...]:
    """What lies on the shelf, sorted by title; empty for nothing."""
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


@stock.command("show", help="Show the lots of PART, its prices, and what happened to it.")
@click.argument("part")
@workshop_command
def show(workshop: Workshop, part: str, *, in_words: bool) -> ItemSheet:
    """A part with its lots, prices (minor units) and movements. Raises NotFoundError."""
    sheet = workshop.stock.item(*_part(workshop, part))
    if in_words:
        _print_item(sheet)
    return sheet


def _print_item(sheet: ItemSheet) -> None:
    from counterpoise.report.views.stock import movement_words
    from counterpoise.report.words.numbers import money as amount

    screen = console()
    screen.print(say(sheet.title, "bold"))
    for lot in sheet.lots:
        screen.print(say(lot_line(lot, sheet.currency)))
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


@stock.command("receive", help="Put pieces of PART on the shelf.")
@click.argument("part")
@COUNT
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
@NOTE
@BY
@writing_command
def receive(
    workshop: Workshop, part: str, *, in_words: bool, by: str, cost: str, asked: str,
    **pieces: Unpack[_Pieces],
) -> Lot:  # fmt: skip
    """The new lot; amounts typed in whole units. Raises InputError, NotFoundError."""
    from counterpoise.workshop.parts.stock import Receipt

    receipt = Receipt(
        *_part(workshop, part),
        cost_minor=money(cost, "cost") or 0,
        # not given is not nothing: without it the catalog's price of a used one is asked
        asked_minor=money(asked, "asked"),
        **pieces,
    )
    return moved_lot(workshop, workshop.stock.receive(receipt, hand(by)), in_words)


@stock.command(
    "shelve",
    help=(
        "Put PARTs off the machine of JOB on the shelf; without any, all that are worth keeping."
    ),
)
@click.argument("job", type=int)
@click.argument("pieces", nargs=-1, metavar="PART[=PIECES]...")
@click.option("--place", default="", help="Where they lie, like B2.")
@BY
@writing_command
def shelve(
    workshop: Workshop, job: int, pieces: tuple[str, ...], *, in_words: bool, place: str, by: str
) -> tuple[Lot, ...]:
    """The new lots; without ``pieces`` one of all worth keeping. Raises InputError."""
    from counterpoise.report.views.donor import donor
    from counterpoise.report.views.job import job_view

    split = [text.partition("=") for text in pieces]
    counts = {name: _whole(number or "1") for name, _, number in split}
    if not counts:
        # what the page of parts would keep, one of each
        counts = {part.item: 1 for part in donor(job_view(workshop, job)).pieces if part.keep}
    lots = workshop.stock.put_on_shelf(job, counts, place, hand(by))
    for lot in lots:
        moved_lot(workshop, lot, in_words)
    return lots


@stock.command("label", help="Write the label of LOT to FILE (PDF).")
@LOT
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
    """The file written. Raises NotFoundError, InputError."""
    from counterpoise.report.paper.pdf import labels_pdf
    from counterpoise.report.views.stock import lot_label

    # the label names lot, item and place; its code leads back to the lot
    stuck_on = lot_label(workshop, workshop.stock.book().lot(lot))
    write_file(file, labels_pdf(stuck_on, address))
    if in_words:
        click.echo(f"Wrote {file}")
    return {"file": file}


def _part(workshop: Workshop, text: str) -> tuple[str, str]:
    family, slash, item = text.partition("/")
    if slash:
        return family, item
    # the first family that has such a part: an id means the same thing in all of them
    usual = workshop.families.usual()
    known = (
        key for key, kind in workshop.families.items() if text in {*kind.parts, *kind.assemblies}
    )
    return next(known, usual), text


def _whole(text: str) -> int:
    if not text.isdecimal():
        raise InputError(
            f"pieces: {text[:40]} is no number", field="pieces", remedy="Write it like foot=4."
        )
    return int(text)


for command in movements.COMMANDS:
    stock.add_command(command)

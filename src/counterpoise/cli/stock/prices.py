"""``counterpoise prices``: suppliers' lists, looked at first and then taken in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, TypedDict, TypeVar, Unpack

import click

from counterpoise.cli.common import hand, pairs, workshop_command, writing_command
from counterpoise.cli.stock.options import BY
from counterpoise.cli.terminal import console, say, write_file
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from counterpoise.workshop.parts.prices import PriceList
    from counterpoise.workshop.services.prices import PriceFile, PricePreview
    from counterpoise.workshop.services.workshop import Workshop

# a list is read by itself where it can be; these say what it cannot tell
_HOW = (
    click.option("--supplier", required=True, metavar="NAME", help="Whose list it is."),
    click.option("--column", "columns", multiple=True, metavar="NAME=HEAD",
                 help="Which column is which, by its head or its number, like price=4; "
                 "may be given several times."),
    click.option("--separator", default="", metavar="NAME",
                 help="What parts the columns: semicolon, comma, tab, bar."),
    click.option("--decimal", default="", metavar="NAME",
                 help="What stands before the cents: comma or point."),
    click.option("--encoding", default="", metavar="NAME",
                 help="How letters are written: utf-8, cp1252, ..."),
    click.option("--family", default="",
                 help="The machines it is for, where an id is in several families."),
)  # fmt: skip

_SHOWN = 20  # changes printed of a list; the page shows all of them
Command = TypeVar("Command", bound="Callable[..., object]")


class _Described(TypedDict):
    """What the options say of a price list: whose it is, how to read it; "" where not said."""

    supplier: str
    columns: tuple[str, ...]
    separator: str
    decimal: str
    encoding: str
    family: str


@click.group()
def prices() -> None:
    """Suppliers' price lists: what they would change, what stands, what stood."""


def _how(command: Command) -> Command:
    # click lists options in the order in which they are added last
    for option in reversed(_HOW):
        command = option(command)
    return command


@prices.command(
    "check",
    help=(
        "Say what the list in FILE (CSV) would change, and what is wrong with it, line by line; "
        "keep nothing."
    ),
)
@click.argument("file", type=click.Path())
@_how
@workshop_command
def check(
    workshop: Workshop, file: str, *, in_words: bool, **described: Unpack[_Described]
) -> PricePreview:
    """What a list would change; nothing is stored. Raises InputError."""
    preview = workshop.prices.preview(_price_file(file, described))
    if in_words:
        _print(preview)
    return preview


@prices.command("import", help="Take in the list in FILE (CSV), all of it or nothing.")
@click.argument("file", type=click.Path())
@_how
@click.option(
    "--leave-out",
    is_flag=True,
    help="Leave broken lines out; without it, one of them stops the whole list.",
)
@click.option("--whole", is_flag=True, help="In place of all former prices of this supplier.")
@BY
@writing_command
def take(
    workshop: Workshop,
    file: str,
    *,
    in_words: bool,
    leave_out: bool,
    whole: bool,
    by: str,
    **described: Unpack[_Described],
) -> PriceList:
    """The list as taken in. Raises InputError; then nothing is stored."""
    sent = _price_file(file, described)
    if in_words:
        # said before the list is refused for them, so that all can be mended in one go
        _print_faults(workshop.prices.preview(sent))
    # all of it or nothing: half a list leaves old prices standing among new ones
    done = workshop.prices.take_in(sent, hand(by), leave_out=leave_out, whole=whole)
    if in_words:
        out = f"; {_lines(done.left_out)} left out" if done.left_out else ""
        click.echo(
            f"Price list {done.number} of {done.supplier}: {_prices(done.lines)} taken in{out}."
        )
    return done


@prices.command("list", help="List the price lists that came in, newest first.")
@workshop_command
def lists(workshop: Workshop, *, in_words: bool) -> tuple[PriceList, ...]:
    """The lists that came in, sorted newest first; empty for none."""
    newest_first = workshop.prices.book().lists[::-1]
    for entry in newest_first if in_words else ():
        gone = " (taken back)" if entry.gone else ""
        counts = f"{_prices(entry.lines)}, {entry.left_out} left out{gone}"
        click.echo(f"{entry.number}  {entry.at[:10]}  {entry.supplier}: {counts}")
    if in_words and not newest_first:
        click.echo("No list came in yet.")
    return newest_first


@prices.command("take-back", help="Take price list NUMBER back: what stood before it stands again.")
@click.argument("number", type=int)
@BY
@writing_command
def take_back(workshop: Workshop, number: int, *, in_words: bool, by: str) -> dict[str, int]:
    """The number of the list taken back. Raises NotFoundError, ConflictError."""
    workshop.prices.take_back(number, hand(by))
    if in_words:
        click.echo(f"Price list {number} was taken back.")
    return {"list": number}


@prices.command("export", help="Write the prices that stand to FILE as CSV.")
@click.argument("file", type=click.Path(dir_okay=False))
@workshop_command
def export(workshop: Workshop, file: str, *, in_words: bool) -> dict[str, str | int]:
    """The file written and how many prices it holds. Raises InputError."""
    text = workshop.prices.as_csv()
    write_file(file, text.encode())
    # a row ends in CRLF as RFC 4180 has it; the first is the head
    count = text.count("\r\n") - 1
    if in_words:
        click.echo(f"{_prices(count)} written to {file}.")
    return {"file": file, "count": count}


def _price_file(file: str, described: _Described) -> PriceFile:
    from counterpoise.workshop.parts.csv_sheet import MOST_BYTES
    from counterpoise.workshop.parts.price_list import ListFormat
    from counterpoise.workshop.services.prices import PriceFile

    try:
        with Path(file).open("rb") as stream:
            # one byte more than is taken: enough to be refused, not enough to fill the memory
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(f"{file} cannot be read: {error.strerror}", field="file") from error
    habits = ListFormat(
        dict(pairs(described["columns"], "column", "NAME=HEADING")),
        described["separator"],
        described["encoding"],
        described["decimal"],
        described["family"],
    )
    return PriceFile(described["supplier"], Path(file).name, data, habits)


def _prices(count: int) -> str:
    return "1 price" if count == 1 else f"{count} prices"


def _lines(count: int) -> str:
    return "1 broken line" if count == 1 else f"{count} broken lines"


def _print(preview: PricePreview) -> None:
    from counterpoise.report.words.numbers import money

    screen, currency = console(), preview.currency
    read = ", ".join(f"{column} from {head!r}" for column, head in preview.columns.items())
    mark = f", a {preview.decimal} before the cents" if preview.decimal else ""
    how = f"Columns parted by {preview.separator}{mark}, letters in {preview.encoding}; {read}."
    # how the list was understood comes first: a wrong column makes all that follows wrong
    screen.print(say(how, "dim"))
    _print_faults(preview)
    for change in preview.changes[:_SHOWN]:
        # a price off by a factor of ten is a slipped comma more often than news
        odd = "  FAR OFF: has the comma slipped?" if change.odd else ""
        pack = f" for {change.pack}" if change.pack > 1 else ""
        before = change.before_minor
        was = f"; {change.by} {money(before, currency)} each" if before else ""
        price = f"{money(change.price_minor, currency)}{pack}{was}{odd}"
        screen.print(say(f"{change.title}, {change.kind}: {price}"))
    more = preview.new + preview.changed - min(_SHOWN, len(preview.changes))
    screen.print(say(f"... and {more} more." if more else ""))
    taken = f"{preview.new} new, {preview.changed} changed, {preview.same} as before"
    left_out = f"{_lines(preview.broken)}, {preview.not_ours} about no part of ours"
    screen.print(say(f"{_prices(preview.taken)}: {taken}; {left_out}. Nothing was kept.", "bold"))


def _print_faults(preview: PricePreview) -> None:
    for fault in preview.faults:
        column = f", {fault.column}" if fault.column else ""
        console().print(say(f"line {fault.line}{column}: {fault.what}. {fault.remedy}"))
    # the preview holds the first ones only: a list in another layout is wrong in every line
    if preview.fault_count > len(preview.faults):
        console().print(say(f"... and {preview.fault_count - len(preview.faults)} more."))

"""``counterpoise prices``: suppliers' lists, looked at first and then taken in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import hand, pairs, workshop_command
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from counterpoise.workshop.services.prices import PriceFile, PricePreview
    from counterpoise.workshop.services.workshop import Workshop

_BY = click.option("--by", default="", help="Who does it; without it, the user of this machine.")
_HOW = (
    click.option("--supplier", required=True, metavar="NAME", help="Whose list it is."),
    click.option("--column", "columns", multiple=True, metavar="NAME=HEAD",
                 help="Which column is which, by its head or its number, like price=4; may be given several times."),
    click.option("--separator", default="", metavar="NAME", help="What parts the columns: semicolon, comma, tab, bar."),
    click.option("--decimal", default="", metavar="NAME", help="What stands before the cents: comma or point."),
    click.option("--encoding", default="", metavar="NAME", help="How letters are written: utf-8, cp1252, ..."),
    click.option("--family", default="", help="The machines it is for, where an id is in several families."),
)  # fmt: skip


@click.group()
def prices() -> None:
    """Suppliers' price lists: what they would change, what stands, what stood."""


def _how(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(_HOW):
        command = option(command)
    return command


@prices.command("check")
@click.argument("file", type=click.Path())
@_how
@workshop_command
def check(workshop: Workshop, file: str, *, tell: bool, **told: Any) -> PricePreview:
    """Say what the list in FILE (CSV) would change, and what is wrong with it, line by line; keep nothing."""
    found = workshop.prices.preview(_sent(file, told))
    if tell:
        _tell(found)
    return found


@prices.command("import")
@click.argument("file", type=click.Path())
@_how
@click.option(
    "--leave-out",
    is_flag=True,
    help="Leave broken lines out; without it, one of them stops the whole list.",
)
@click.option("--whole", is_flag=True, help="In place of all former prices of this supplier.")
@_BY
@workshop_command
def take(
    workshop: Workshop, file: str, *, tell: bool, leave_out: bool, whole: bool, by: str, **told: Any
) -> Any:
    """Take in the list in FILE (CSV), all of it or nothing."""
    sent = _sent(file, told)
    if tell:
        _tell_faults(workshop.prices.preview(sent))
    done = workshop.prices.take_in(sent, hand(by), leave_out=leave_out, whole=whole)
    if tell:
        out = f"; {done.left_out} broken lines left out" if done.left_out else ""
        click.echo(
            f"Price list {done.number} of {done.supplier}: {done.lines} prices taken in{out}."
        )
    return done


@prices.command("list")
@workshop_command
def lists(workshop: Workshop, *, tell: bool) -> Any:
    """List the price lists that came in, newest first."""
    found = workshop.prices.book().lists[::-1]
    for one in found if tell else ():
        gone = " (taken back)" if one.gone else ""
        click.echo(
            f"{one.number}  {one.at[:10]}  {one.supplier}: {one.lines} prices, {one.left_out} left out{gone}"
        )
    if tell and not found:
        click.echo("No list came in yet.")
    return found


@prices.command("take-back")
@click.argument("number", type=int)
@_BY
@workshop_command
def take_back(workshop: Workshop, number: int, *, tell: bool, by: str) -> Any:
    """Take price list NUMBER back: what stood before it stands again."""
    workshop.prices.take_back(number, hand(by))
    if tell:
        click.echo(f"Price list {number} was taken back.")
    return {"list": number}


@prices.command("export")
@click.argument("file", type=click.Path(dir_okay=False))
@workshop_command
def export(workshop: Workshop, file: str, *, tell: bool) -> Any:
    """Write the prices that stand to FILE as CSV."""
    text = workshop.prices.as_csv()
    try:
        Path(file).write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        raise InputError(
            f"{file}: {error.strerror}", field="file", remedy="Give another file."
        ) from error
    count = text.count("\r\n") - 1
    if tell:
        click.echo(f"{count} prices written to {file}.")
    return {"file": file, "count": count}


def _sent(file: str, told: dict[str, Any]) -> PriceFile:
    from counterpoise.workshop.parts.csv_sheet import MOST_BYTES
    from counterpoise.workshop.parts.price_list import Habits
    from counterpoise.workshop.services.prices import PriceFile

    try:
        with Path(file).open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(f"{file} cannot be read: {error.strerror}", field="file") from error
    columns = dict(pairs(told["columns"], "column"))
    habits = Habits(columns, told["separator"], told["encoding"], told["decimal"], told["family"])
    return PriceFile(told["supplier"], Path(file).name, data, habits)


def _tell(found: PricePreview) -> None:
    from counterpoise.cli.job.show import console, say
    from counterpoise.report.words.numbers import money

    read = ", ".join(f"{column} from {head!r}" for column, head in found.columns.items())
    mark = f", a {found.decimal} before the cents" if found.decimal else ""
    console().print(
        say(
            f"Columns parted by {found.separator}{mark}, letters in {found.encoding}; {read}.",
            "dim",
        )
    )
    _tell_faults(found)
    for one in found.changes[:20]:
        odd = "  FAR OFF: has the comma slipped?" if one.odd else ""
        pack = f" for {one.pack}" if one.pack > 1 else ""
        before = (
            f"; {one.by} {money(one.before_minor, found.currency)} each" if one.before_minor else ""
        )
        console().print(
            say(
                f"{one.title}, {one.kind}: {money(one.price_minor, found.currency)}{pack}{before}{odd}"
            )
        )
    more = found.new + found.changed - min(20, len(found.changes))
    console().print(say(f"... and {more} more." if more else ""))
    console().print(
        say(f"{found.taken} prices: {found.new} new, {found.changed} changed, {found.same} as before; "
            f"{found.broken} broken lines, {found.not_ours} about no part of ours. Nothing was kept.", "bold")
    )  # fmt: skip


def _tell_faults(found: PricePreview) -> None:
    from counterpoise.cli.job.show import console, say

    for fault in found.faults:
        column = f", {fault.column}" if fault.column else ""
        console().print(say(f"line {fault.line}{column}: {fault.what}. {fault.remedy}"))
    if found.fault_count > len(found.faults):
        console().print(say(f"... and {found.fault_count - len(found.faults)} more."))

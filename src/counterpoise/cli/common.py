"""What the commands of the workshop share: the store, JSON, errors in words."""

from __future__ import annotations

import functools
import json
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, is_dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import click

from counterpoise.errors import CounterpoiseError, InputError

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop

STORE_VARIABLE = "COUNTERPOISE_STORE"
DEFAULT_STORE = "counterpoise.db"
# click calls a command with whatever its options say, so its parameters cannot be typed from here
Command = TypeVar("Command", bound=Callable[..., object])
_FARTHEST = 1e9  # no figure of a washing machine is larger; what is typed beyond is a slip


def open_workshop(where: str) -> Workshop:
    """The workshop over a store, a file or a database URL. Raises StoreError."""
    # SQLAlchemy takes a quarter of a second to import; --help does without
    from counterpoise.workshop.services import intake

    return intake.open_workshop(where)


def workshop_command(command: Command) -> Command:
    """Give a command ``workshop``, ``--store`` and ``--json``; it returns what ``--json`` prints.

    Without ``--json`` the command is called with ``in_words=True`` and prints its answer itself.
    Under ``--json`` an error is told as JSON too, and the exit status is 2.
    """

    @click.option(
        "--store",
        envvar=STORE_VARIABLE,
        default=DEFAULT_STORE,
        show_default=True,
        show_envvar=True,
        metavar="PATH",
        help="The workshop's store: a file, or a database URL.",
    )
    @click.option("--json", "as_json", is_flag=True, help="Print JSON.")
    @click.pass_context
    @functools.wraps(command)
    def wrapped(
        ctx: click.Context, /, *args: object, store: str, as_json: bool, **options: object
    ) -> None:
        try:
            # a workshop handed in from outside (by tests) goes before the store
            workshop = ctx.obj if ctx.obj is not None else open_workshop(store)
            answer = command(workshop, *args, in_words=not as_json, **options)
        except CounterpoiseError as error:
            if not as_json:
                raise  # the group says it in words
            click.echo(json.dumps(problem(error), ensure_ascii=False))
            ctx.exit(2)
        if as_json:
            click.echo(json.dumps(plain(answer), indent=2, ensure_ascii=False))

    return wrapped  # type: ignore[return-value]  # click turns it into a command of its own


class JsonErrors(click.Command):
    """A command whose errors under ``--json`` are JSON too, with exit status 2.

    What the command line itself says (an option that is missing, a word that is no number) is told
    in the same three fields as what the program says.
    """

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,
    ) -> click.Context:
        """Read the command line; under ``--json`` a mistake in it is told as JSON."""
        # parsing takes the list apart, so this is asked first
        as_json = "--json" in args
        try:
            return super().make_context(info_name, args, parent, **extra)
        except click.UsageError as error:
            if not as_json:
                raise
            option = getattr(error, "param", None)
            answer = {
                "what": error.format_message(),
                "field": option.name if option is not None and option.name else "",
                "remedy": "see --help",
            }
            click.echo(json.dumps(answer, ensure_ascii=False))
            raise click.exceptions.Exit(2) from error

    def invoke(self, ctx: click.Context) -> object:
        """Run the command; under ``--json`` an error of the program is told as JSON."""
        try:
            return super().invoke(ctx)
        except CounterpoiseError as error:
            if not ctx.params.get("as_json"):
                raise
            click.echo(json.dumps(problem(error), ensure_ascii=False))
            ctx.exit(2)


class JsonErrorsGroup(click.Group):
    """A group whose commands tell their errors as JSON under ``--json``."""

    command_class = JsonErrors


def workshop_of(ctx: click.Context, store: str) -> Workshop:
    """The workshop for a command that only sometimes needs one. Raises StoreError."""
    # a workshop handed in from outside (by tests) goes before the store
    handed: Workshop | None = ctx.obj
    return handed if handed is not None else open_workshop(store)


def problem(error: CounterpoiseError) -> dict[str, str]:
    """An error as the API tells it: ``what``, ``field`` (empty for none), ``remedy`` (empty)."""
    if isinstance(error, InputError):
        return {"what": error.message, "field": error.field, "remedy": error.remedy}
    return {"what": str(error), "field": "", "remedy": ""}


def plain(value: object) -> object:
    """Dataclasses, and sequences of them, as values that JSON knows."""
    if is_dataclass(value) and not isinstance(value, type):
        return asdict(value)
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [plain(item) for item in value]
    return value


def pairs(texts: Sequence[str], field: str) -> Mapping[str, str]:
    """``name=value`` texts as a mapping; the last of a name holds. Raises InputError."""
    split = [text.partition("=") for text in texts]
    for text, (name, sign, value) in zip(texts, split, strict=True):
        if not (name and sign and value):
            raise InputError(
                f"{field}: {text} is not name=value",
                field=field,
                remedy="Write it like drive=belt.",
            )
    return {name: value for name, _, value in split}


def numbers(texts: Sequence[str], field: str) -> dict[str, float]:
    """``name=number`` texts as numbers, comma or point. Raises InputError naming the figure."""
    from counterpoise.report.words.numbers import read_number

    return {
        name: read_number(text, name, -_FARTHEST, _FARTHEST)
        for name, text in pairs(texts, field).items()
    }


def money(text: str, field: str, *, negative: bool = False) -> int | None:
    """Minor units of an amount as typed, None where nothing was. Raises InputError."""
    from counterpoise.report.words.numbers import read_money

    return read_money(text, field, negative=negative) if text else None


def hand(by: str) -> str:
    """Who does it: as given, else the name of the user of this machine, else "bench"."""
    return by or os.environ.get("USER", "") or "bench"

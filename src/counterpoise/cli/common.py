"""What the commands of the workshop share: the store, JSON, errors in words."""

from __future__ import annotations

import functools
import json
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, is_dataclass
from typing import TYPE_CHECKING, TypeVar

import click

from counterpoise.cli.once import KEY, say_before, written_once
from counterpoise.errors import CounterpoiseError, InputError, NotFoundError, StoreError

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.workshop.services.workshop import Workshop

STORE_VARIABLE = "COUNTERPOISE_STORE"
FAMILIES_VARIABLE = "COUNTERPOISE_FAMILIES"
DEFAULT_STORE = "counterpoise.db"
# click calls a command with whatever its options say, so its parameters cannot be typed from here
Command = TypeVar("Command", bound=Callable[..., object])
_FARTHEST = 1e9  # no figure of a machine is larger; what is typed beyond is a slip


families_option = click.option(
    "--families",
    "folder",
    envvar=FAMILIES_VARIABLE,
    show_envvar=True,
    metavar="FOLDER",
    help="The workshop's own families. Without it: counterpoise-families beside the store.",
)


def open_workshop(where: str, folder: str | None = None) -> Workshop:
    """The workshop over a store, a file or a database URL. Raises StoreError.

    ``folder``: that of its own families; None: the one beside the store.
    """
    # SQLAlchemy takes a quarter of a second to import; --help does without
    from counterpoise.catalog.places import own_folder
    from counterpoise.workshop.services import intake

    return intake.open_workshop(where, own_folder(folder, where))


def family_named(name: str) -> Family:
    """A family by its id, the workshop's own too, or by its file. Raises NotFoundError."""
    from counterpoise.catalog.loader import Catalog
    from counterpoise.catalog.places import own_folder

    return Catalog(own_folder(None, os.environ.get(STORE_VARIABLE) or DEFAULT_STORE)).load(name)


def catalog_command(command: Command) -> Command:
    """Give a command that needs no store ``--families``, as ``known``: all families by id."""

    @families_option
    @functools.wraps(command)
    def wrapped(*args: object, folder: str | None, **options: object) -> object:
        from counterpoise.catalog.loader import Catalog
        from counterpoise.catalog.places import own_folder

        # beside the store that the commands of the workshop would open here
        beside = os.environ.get(STORE_VARIABLE) or DEFAULT_STORE
        return command(*args, known=Catalog(own_folder(folder, beside)), **options)

    return wrapped  # type: ignore[return-value]  # click turns it into a command of its own


def workshop_command(command: Command) -> Command:
    """Give a command ``workshop``, ``--store``, ``--families`` and ``--json``.

    It returns what ``--json`` prints. Without it the command is called with ``in_words=True`` and
    prints its answer itself.
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
    @families_option
    @click.option("--json", "as_json", is_flag=True, help="Print JSON.")
    @click.pass_context
    @functools.wraps(command)
    def wrapped(
        ctx: click.Context, /, *args: object, store: str, folder: str | None, as_json: bool,
        **options: object,
    ) -> None:  # fmt: skip
        workshop = workshop_of(ctx, store, folder)
        key = str(options.pop("key", ""))
        run = functools.partial(command, workshop, *args, in_words=not as_json, **options)
        if key:
            said = {"command": ctx.command_path, "args": args, **options}
            answer, before = written_once(workshop, key, said, run)
            if before is not None and not as_json:
                say_before(before)
        else:
            answer = run()
        if as_json:
            click.echo(json.dumps(plain(answer), indent=2, ensure_ascii=False))

    return wrapped  # type: ignore[return-value]  # click turns it into a command of its own


def writing_command(command: Command) -> Command:
    """Give a command that writes ``--key`` too: the same under the same key writes nothing."""
    return KEY(workshop_command(command))


def workshop_of(ctx: click.Context, store: str, folder: str | None) -> Workshop:
    """The workshop for a command that only sometimes needs one. Raises StoreError."""
    # a workshop handed in from outside (by tests) goes before the store
    handed: Workshop | None = ctx.obj
    return handed if handed is not None else open_workshop(store, folder)


def problem(error: CounterpoiseError | click.ClickException) -> dict[str, str]:
    """An error as the API tells it: ``what``, ``field`` (empty for none), ``remedy`` (empty).

    What the command line itself says (an option that is missing, a word that is no number) is told
    in the same three fields as what the program says.
    """
    if isinstance(error, InputError):
        return {"what": error.message, "field": error.field, "remedy": error.remedy}
    if isinstance(error, NotFoundError) or (isinstance(error, StoreError) and error.remedy):
        return {"what": error.message, "field": "", "remedy": error.remedy}
    if not isinstance(error, click.ClickException):
        return {"what": str(error), "field": "", "remedy": ""}
    option, ctx = getattr(error, "param", None), getattr(error, "ctx", None)
    field = option.name if option is not None and option.name else ""
    path = ctx.command_path if ctx is not None else "counterpoise"
    return {"what": error.format_message(), "field": field, "remedy": f"See {path} --help."}


def plain(value: object) -> object:
    """Dataclasses, and sequences of them, as values that JSON knows."""
    if is_dataclass(value) and not isinstance(value, type):
        return asdict(value)
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [plain(item) for item in value]
    return value


def pairs(texts: Sequence[str], field: str, like: str) -> Mapping[str, str]:
    """``name=value`` texts as a mapping; the last of a name holds. Raises InputError.

    ``like`` is an example of such a text, for whoever wrote another.
    """
    split = [text.partition("=") for text in texts]
    for text, (name, sign, value) in zip(texts, split, strict=True):
        if not (name and sign and value):
            raise InputError(
                f"{field}: {text} is not name=value",
                field=field,
                remedy=f"Write it like {like}.",
            )
    return {name: value for name, _, value in split}


def numbers(texts: Sequence[str], field: str, like: str) -> dict[str, float]:
    """``name=number`` texts as numbers, comma or point. Raises InputError naming the figure."""
    from counterpoise.report.words.numbers import read_number

    return {
        name: read_number(text, name, -_FARTHEST, _FARTHEST)
        for name, text in pairs(texts, field, like).items()
    }


def money(text: str, field: str, *, negative: bool = False) -> int | None:
    """Minor units of an amount as typed, None where nothing was. Raises InputError."""
    from counterpoise.report.words.numbers import read_money

    return read_money(text, field, negative=negative) if text else None


def hand(by: str) -> str:
    """Who does it: as given, else the name of the user of this machine, else "bench"."""
    return by or os.environ.get("USER", "") or "bench"

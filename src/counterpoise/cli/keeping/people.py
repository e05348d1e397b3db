"""``counterpoise people``: who works here by name, from the computer that has the store.

Whoever can open the store's file may use it: this is how a forgotten PIN is renewed, the last
owner's too.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import plain, workshop_command, writing_command

if TYPE_CHECKING:
    from counterpoise.workshop.people.records import Person
    from counterpoise.workshop.services.workshop import Workshop

_ROLES = click.Choice(["owner", "bench", "counter"])


@click.group()
def people() -> None:
    """Who works here by name: added, changed, given another PIN, signed out."""


@people.command("list", help="List who works here and where they are signed in.")
@workshop_command
def list_people(workshop: Workshop, *, in_words: bool) -> object:
    """Everybody, and the sessions that are open."""
    # never a secret, nor what is kept of one
    known, sessions = workshop.people.all(), workshop.people.sessions()
    if in_words:
        for person in known:
            click.echo(_line(person))
        for session in sessions:
            click.echo(
                f"{session.name} is signed in: {session.device}, last seen {session.last_seen}"
            )
        if not known:
            click.echo("Nobody: whoever reaches the pages is the workshop.")
    return {"people": plain(known), "sessions": plain(sessions)}


@people.command(
    "add",
    help=(
        "Add NAME. The PIN (6 digits or more) or passphrase (8 letters or more) is asked for, or "
        "read as a line from the standard input; it is never an argument. The first is an owner."
    ),
)
@click.argument("name")
@click.option("--role", type=_ROLES, default="bench", show_default=True)
@writing_command
def add(workshop: Workshop, name: str, *, role: str, in_words: bool) -> object:
    """Add somebody. Raises InputError naming the field."""
    person = workshop.people.add(name, role, _secret())
    if in_words:
        click.echo(_line(person))
    return person


@people.command(
    "renew",
    help="Give NAME another PIN or passphrase, asked for as with add; all their sessions end.",
)
@click.argument("name")
@writing_command
def renew(workshop: Workshop, name: str, *, in_words: bool) -> object:
    """Give somebody another secret. Raises NotFoundError, InputError."""
    person = workshop.people.renew(workshop.people.by_name(name).number, _secret())
    if in_words:
        click.echo(f"{person.name} signs in with the new one.")
    return person


@people.command("change", help="Give NAME another role, or say that they left or are back.")
@click.argument("name")
@click.option("--role", type=_ROLES, help="Without it the role stays.")
@click.option("--gone/--back", default=None, help="Left, and signed out at once; or back again.")
@writing_command
def change(
    workshop: Workshop, name: str, *, role: str | None, gone: bool | None, in_words: bool
) -> object:
    """Change what somebody is. Raises NotFoundError, InputError for the last owner."""
    # what is not said stays as it is
    was = workshop.people.by_name(name)
    active = was.active if gone is None else not gone
    person = workshop.people.change(was.number, role or was.role, active=active)
    if in_words:
        click.echo(_line(person))
    return person


@people.command("out", help="Sign NAME out everywhere.")
@click.argument("name")
@writing_command
def out(workshop: Workshop, name: str, *, in_words: bool) -> object:
    """End somebody's sessions. Raises NotFoundError."""
    person = workshop.people.by_name(name)
    ended = workshop.people.end_all(person.number)
    if in_words:
        click.echo(f"{person.name} is signed out: {ended} sessions ended.")
    return {"name": person.name, "ended": ended}


def _secret() -> str:
    """A secret as typed, twice where somebody types it. Never an argument: those are for all."""
    if sys.stdin.isatty():
        return str(click.prompt("PIN or passphrase", hide_input=True, confirmation_prompt=True))
    return sys.stdin.readline().rstrip("\r\n")


def _line(person: Person) -> str:
    return f"{person.number}  {person.name}, {person.role}{'' if person.active else ', gone'}"

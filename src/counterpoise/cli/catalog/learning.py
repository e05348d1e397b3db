"""``counterpoise learning``: what closed jobs taught, whether it is any good, frozen, undone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import workshop_command
from counterpoise.cli.terminal import console, say
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.report.views.learned.view import LearningView
    from counterpoise.workshop.services.workshop import Workshop

# what can be done to all that was learned of a family
_WHOLE = ("freeze", "go_on", "put_off", "undo")


@click.command(
    help=(
        "Say what the closed jobs of FAMILY taught: each figure by the catalog and as it is in use,"
        " and with --judge whether it foretells better."
    )
)
@click.argument("family", default="")
@click.option("--judge", is_flag=True, help="Foretell each closed job from those before it.")
@click.option("--freeze", "what", flag_value="freeze", help="Leave closings from now on out.")
@click.option("--go-on", "what", flag_value="go_on", help="Learn from all closed jobs again.")
@click.option("--put-off", "what", flag_value="put_off", help="Use the catalog as written.")
@click.option("--undo", "what", flag_value="undo", help="Go back to before the last closed job.")
@click.option("--take-back", default="", metavar="PLACE", help="Use the written figure at PLACE.")
@click.option("--give-back", default="", metavar="PLACE", help="Use the learned one there again.")
@click.option("--by", default="", help="Your name or initials.")
@workshop_command
def learning(
    workshop: Workshop, *, in_words: bool, family: str, judge: bool, what: str | None,
    take_back: str, give_back: str, by: str,
) -> LearningView:  # fmt: skip
    """Show what was learned, after doing what was asked. Raises InputError."""
    from counterpoise.report.views.learned.view import learning_view

    if sum(map(bool, (what, take_back, give_back))) > 1:
        raise InputError(
            "Only one of --freeze, --go-on, --put-off, --undo, --take-back and --give-back"
            " can be done at a time",
            remedy="Give them one after the other",
        )
    key = workshop.families.usual(family)
    service = workshop.learning
    if what in _WHOLE:
        whole = {"freeze": service.freeze, "go_on": service.go_on,
                 "put_off": service.put_off, "undo": service.undo}  # fmt: skip
        whole[what](key, by)
    elif take_back:
        service.take_back(key, take_back, by)
    elif give_back:
        service.give_back(key, give_back, by)
    view = learning_view(workshop, key, judged=judge)
    if in_words:
        _print(view)
    return view


def _print(view: LearningView) -> None:
    screen = console()
    screen.print(say(view.title, "bold"))
    screen.print(say(view.standing))
    for row in view.rows:
        back = " (taken back: the catalog's is used)" if row.taken_back else ""
        screen.print(say(f"{row.name}: {row.text}{back}"))
        jobs = ", ".join(map(str, row.jobs)) or "none had it"
        screen.print(say(f"    {row.range} eight times in ten; jobs {jobs}", "dim"))
        screen.print(say(f"    {row.place}", "dim"))
    for sentence in (*view.reader, *view.others):
        screen.print(say(sentence))
    if view.more:
        screen.print(say(f"{view.more} more moved less; --json lists what is shown", "dim"))
    for sentence in view.judged:
        screen.print(say(sentence))
    for low, written, learned, count in view.reliability:
        screen.print(say(f"    {low}: catalog {written}; our jobs {learned} ({count})", "dim"))

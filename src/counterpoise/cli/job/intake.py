"""Taking a machine in, and taking it in again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, TypedDict, Unpack

import click

from counterpoise.catalog.loader import first_family
from counterpoise.cli.common import hand, money, numbers, pairs, writing_command
from counterpoise.cli.job.options import BY, LAST, NUMBER, recorded_entry
from counterpoise.workshop.jobs.entries import Figures, Finding, Intake

if TYPE_CHECKING:
    from counterpoise.report.views.job import Recorded
    from counterpoise.workshop.services.workshop import Workshop


class _New(TypedDict):
    """What the options say of a machine that comes in; ``name=value`` texts and amount unread."""

    family: str
    owner: Literal["customer", "workshop"]
    title: str
    complaints: tuple[str, ...]
    maker: str
    model: str
    serial: str
    contact: str
    story: str
    promised: str
    language: str
    away: bool
    used_parts: bool
    nobody_to_ask: bool
    age: float | None
    features: tuple[str, ...]
    figures: tuple[str, ...]
    answers: tuple[str, ...]
    paid: str
    new_machine: str


@click.command("new", help="Take a machine in.")
@click.option("--family", default=first_family(), show_default=True, help="The family of machines.")
# whose machine it is decides which ways to end the job there are
@click.option(
    "--owner",
    type=click.Choice(["customer", "workshop"]),
    default="customer",
    show_default=True,
    help="Whose.",
)
@click.option(
    "--title", default="", help="What the job is called; without it, after the complaints."
)
# by id, so that the words of the page can change without breaking a script
@click.option(
    "--complaint",
    "complaints",
    multiple=True,
    help="What is wrong, by its id; may be given several times.",
)
# unknown is an answer: the settings say which age is then reckoned with
@click.option("--age", type=float, default=None, help="Age in years.")
@click.option(
    "--feature", "features", multiple=True, metavar="NAME=VALUE", help="A feature of this machine."
)
@click.option(
    "--figure",
    "figures",
    multiple=True,
    metavar="NAME=NUMBER",
    help="A figure off its plate: dampers=3.",
)
# questions to the owner cost no bench time, so they are asked before anything is opened
@click.option(
    "--answer", "answers", multiple=True, metavar="CHECK=OUTCOME", help="What the owner answered."
)
@click.option("--maker", default="", help="Maker.")
@click.option("--model", default="", help="Model.")
@click.option("--serial", default="", help="Serial number.")
@click.option("--contact", default="", help="How to reach the owner.")
@click.option("--story", default="", help="What was said, in the owner's words.")
@click.option(
    "--promised", default="", metavar="DAY", help="The day it is promised for, like 2026-03-05."
)
@click.option(
    "--language",
    default="",
    metavar="CODE",
    help="Language of the owner's papers, like de; without it, the workshop's.",
)
@click.option(
    "--away", is_flag=True, help="It is worked on at the owner's place: the call-out is charged."
)
@click.option(
    "--paid", default="", metavar="AMOUNT", help="What the workshop paid for the machine."
)
@click.option(
    "--new-machine",
    default="",
    metavar="AMOUNT",
    help="What a comparable new machine costs, where the usual price of its kind is not it.",
)
@click.option("--used-parts", is_flag=True, help="The owner agrees to used parts.")
# a machine from the kerb has no owner to be asked
@click.option(
    "--nobody-to-ask", is_flag=True, help="It came without an owner: no question is proposed."
)
@BY
@writing_command
def new(workshop: Workshop, *, in_words: bool, by: str, **given: Unpack[_New]) -> Recorded:
    """Open a job; age in years. Raises InputError; then nothing is stored."""
    from counterpoise.workshop.jobs.in_motion import a_kind
    from counterpoise.workshop.services.intake import take_in

    answers = [
        Finding(check, outcome)
        for check, outcome in pairs(given["answers"], "answer", "CHECK=OUTCOME").items()
    ]
    intake = Intake(
        family=given["family"],
        owner=given["owner"],
        title=given["title"],
        complaints=given["complaints"],
        age_years=given["age"],
        features=dict(pairs(given["features"], "feature", "drive=belt")),
        maker=given["maker"],
        model=given["model"],
        serial=given["serial"],
        contact=given["contact"],
        story=given["story"],
        paid_minor=money(given["paid"], "paid") or 0,
        new_machine_minor=money(given["new_machine"], "new_machine"),
        promised=given["promised"],
        away=given["away"],
        used_parts=given["used_parts"],
        nobody_to_ask=given["nobody_to_ask"],
        language=given["language"],
    )
    # what stands on the plate is measured by nobody, so it keeps its own provenance
    figures = Figures(numbers(given["figures"], "figure", "spin_rpm=1400"), "plate")
    # one transaction: a machine is taken in with all that was said, or not at all
    number = take_in(workshop, intake, answers, hand(by), figures)
    # which kind it was taken for is said at once: nobody else would notice the wrong one
    if in_words:
        click.echo(f"Taken in: {a_kind(workshop.family(given['family']).title)}.")
    # the last of the entries just written: intake, plate, answers
    return recorded_entry(workshop, number, workshop.jobs.get(number).entries[-1].number, in_words)


@click.command("came-back", help="Open a closed job again: its machine came back.")
@NUMBER
@click.option("--why", default="", help="What is said to be wrong.")
@BY
@LAST
@writing_command
def came_back(
    workshop: Workshop, number: int, *, in_words: bool, why: str, by: str, expected_last: int | None
) -> Recorded:
    """Open a closed job again. Raises InputError where it is open, ConflictError, NotFoundError."""
    # the closing is taken back, not erased: that it came back counts for the guarantee
    entry = workshop.jobs.reopen(number, why, hand(by), expected_last)
    return recorded_entry(workshop, number, entry.number, in_words)

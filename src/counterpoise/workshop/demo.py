"""An invented workshop: its people, its settings, and one job to be played from intake to its end.

Workshop, people, makers, models and prices are invented. :mod:`counterpoise.workshop.demo_jobs` holds the jobs of
its book; :func:`seed` writes them.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from counterpoise.workshop.demo_jobs import BOOK
from counterpoise.workshop.evidence import Body, Closed, Decision, Entry, Finding, Intake, Job
from counterpoise.workshop.parcel import Parcel

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from counterpoise.workshop.desk import Desk
    from counterpoise.workshop.store import Store

SETTINGS = {"workshop_name": "The Back Bench, Alder Yard", "people": 2, "resale_new_minor": 40000}
_OTHERWISE_MINUTES = 2.0  # between two entries that do not say how long they took

PLAYED_BY = "Odo"
PLAYED_INTAKE = Intake(
    family="front_loader",
    owner="workshop",
    title="Taldera T8, fetched from Mill Street",
    complaints=("shakes", "walks", "knocks"),
    age_years=5.0,
    features={"drive": "direct", "tub": "bolted"},
    maker="Taldera",
    model="T8 1400",
    serial="T8-0417733",
    story="Fetched for nothing. Somebody had looked in and said: dampers, an hour.",
)
PLAYED: tuple[Body, ...] = (
    Finding("ask_when_in_spin", "run_up", minutes=0.4, note="Goes wild on the way up, then bangs."),
    Finding("rock_corners", "firm", minutes=0.7),
    Finding("lift_tub", "one_side_free", minutes=1.0, note="The left one brakes no more."),
    Finding("push_tub_bounces", "swings_on", 5.0, 0.5, minutes=1.0, note="Swings on and on. So: dampers?"),
    Finding("drum_by_hand", "on_its_own", 3.5, 0.3, minutes=1.0, note="That is not the tub moving. The drum itself."),
    Finding("turn_drum_by_hand", "catches", minutes=1.0),
    Finding("look_drain_trap", "crumbs", minutes=2.0, note="Two coins and a spoonful of grey crumbs."),
    Finding("measure_rim_runout", "much", 9.0, 0.5, minutes=3.0, note="To be sure before it comes apart."),
    Decision(
        "part_out",
        why="The dampers are worn, true. But the drum support is through: new dampers would have shaken for a week.",
    ),
    Closed(
        "part_out",
        ("drum_support:cracked", "damper_worn:gone"),
        11_500,
        "Motor, board, door, pump and springs on the shelf. The rest to the yard.",
    ),
)


def play(desk: Desk) -> Iterator[Job]:
    """Play the demo's job at a desk; give the job as it stands after its intake and after each entry."""
    number = desk.open_job(PLAYED_INTAKE, PLAYED_BY).number
    yield desk.job(number)
    for body in PLAYED:
        desk.record(number, body, PLAYED_BY)
        yield desk.job(number)


def seed(store: Store) -> list[Job]:
    """Write the invented workshop's settings and jobs into an empty store; leave any other store as it is."""
    if store.jobs():
        return []
    store.change_settings(SETTINGS)
    return store.add_all(Parcel(entries_of(opened, by, steps)) for opened, by, steps in BOOK)


def entries_of(opened: str, by: str, steps: Iterable[Body | timedelta]) -> tuple[Entry, ...]:
    """Return bodies as numbered entries: each is written when it is done, a timedelta is a wait before the next."""
    at = datetime.fromisoformat(opened).astimezone(UTC)
    out: list[Entry] = []
    for step in steps:
        if isinstance(step, timedelta):
            at += step
            continue
        if out:
            at += timedelta(minutes=getattr(step, "minutes", None) or _OTHERWISE_MINUTES)
        out.append(Entry(len(out) + 1, at.strftime("%Y-%m-%dT%H:%M:%SZ"), by, step))
    return tuple(out)


__all__ = ["PLAYED", "PLAYED_BY", "PLAYED_INTAKE", "SETTINGS", "entries_of", "play", "seed"]

"""What the price of a job rests on and nobody has looked at: features its repairs need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from counterpoise.catalog.family import RepairEntry
from counterpoise.money.quote import out_of_ten
from counterpoise.workshop.diagnosis.family_model import within_reach
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.jobs.settings import Settings


@dataclass(frozen=True, slots=True)
class Unsettled:
    """A feature that work needs and that is not known: it is reckoned as ``value``.

    ``chance`` that it is so; ``check`` is the id of the check that tells, empty where none does.
    """

    feature: str
    value: str
    chance: float
    check: str
    text: str


def unsettled(
    situation: Situation, settings: Settings, work: Sequence[RepairEntry]
) -> tuple[Unsettled, ...]:
    """What these repairs need of the machine and is not known of it, each feature once."""
    needed = {
        feature: (value, entry)
        for entry in work
        for feature, value in entry.needs.items()
        if feature not in situation.known
    }
    return tuple(
        _unsettled(situation, settings, feature, value, entry)
        for feature, (value, entry) in needed.items()
    )


def _unsettled(
    situation: Situation, settings: Settings, name: str, value: str, entry: RepairEntry
) -> Unsettled:
    family = situation.family
    feature = family.features[name]
    chance = situation.feature_chances[name].get(value, 0.0)
    # the shortest look that this workshop can take
    looks = sorted(
        (
            check
            for check in family.checks.values()
            if check.tells == name and within_reach(check, settings.people, settings.tools)
        ),
        key=lambda check: check.minutes,
    )
    first = f' First: "{looks[0].title}".' if looks else ""
    text = (
        f'{feature.title} Not known. "{entry.title}" can be done where it is'
        f' "{feature.values[value]}", {out_of_ten(chance)}.{first}'
    )
    return Unsettled(name, value, chance, looks[0].id if looks else "", text)

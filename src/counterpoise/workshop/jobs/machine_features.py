"""What a job's entries say of the features of its machine, before any chance is reckoned."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from counterpoise.workshop.jobs.entries import CANNOT_REACH, COULD_NOT_TELL, NOT_THERE, Finding

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.family import Family
    from counterpoise.workshop.jobs.entries import Job


def features_found(family: Family, job: Job) -> Iterator[tuple[str, str, bool, str]]:
    """What the standing findings say of features, in order: feature, value, is it so, by what.

    A check that tells a feature says what it is. Whoever reports of a thing that only some machines
    have says that this is such a machine; who reports that it has none says that it is not.
    """
    for entry in job.standing:
        body = entry.body
        check = family.checks.get(body.check) if isinstance(body, Finding) else None
        if check is None or not isinstance(body, Finding):
            continue
        if body.outcome in {COULD_NOT_TELL, CANNOT_REACH}:
            continue
        if check.tells:
            yield check.tells, body.outcome, True, check.title
        for feature, value in check.needs.items():
            yield feature, value, body.outcome != NOT_THERE, check.title


def contradicted(family: Family, job: Job) -> dict[str, str]:
    """The features that a standing finding says are not as the intake has them, and what found it.

    The title of the check by feature; the last one where there are several.
    """
    given = job.intake.features
    return {
        feature: title
        for feature, value, so, title in features_found(family, job)
        if feature in given and (value == given[feature]) != so
    }


def known_features(family: Family, job: Job) -> Mapping[str, str]:
    """The features that intake or findings give without contradicting each other."""
    possible = {name: set(feature.values) for name, feature in family.features.items()}
    for name, value in job.intake.features.items():
        # a job outlives its catalog
        if name in possible:
            possible[name] &= {value}
    for feature, value, so, _ in features_found(family, job):
        possible[feature] &= {value} if so else possible[feature] - {value}
    # none is left where two contradict each other
    return {name: next(iter(values)) for name, values in possible.items() if len(values) == 1}

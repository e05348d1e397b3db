"""Which repairs a job is costed for: those named, or those done and those likely needed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from counterpoise.catalog.family import FaultEntry, RepairEntry
from counterpoise.errors import InputError
from counterpoise.workshop.diagnosis.evidence.bench_time import panels_for
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.part_sets import set_word
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.problem import can_be_done
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.jobs.comeback import since_comeback
from counterpoise.workshop.jobs.entries import Job, RepairDone
from counterpoise.workshop.jobs.suggestions import did_you_mean

COVERED = 0.5  # work that cures a fault at least this surely is held to deal with it
LIKELY = 0.5  # beside the leading suspect, faults at least this likely are mended too
# Of two repairs that cure nearly as surely, the cheaper one is taken.
NEARLY_AS_SURE = 0.1


def done_minutes(case: JobCase) -> dict[str, float | None]:
    """The repairs done (since the machine came back), with minutes where somebody put them down."""
    return repairs_done(case.job, case.family.repairs)


def repairs_done(job: Job, known: Iterable[str]) -> dict[str, float | None]:
    """The repairs done since the machine came back, of those ``known``: minutes by id, or None."""
    repairs = frozenset(known)
    # what was mended before it came back was paid for then
    bodies = [entry.body for entry in since_comeback(job)]
    return {
        body.repair: body.minutes
        for body in bodies
        if isinstance(body, RepairDone) and body.repair in repairs
    }


def named_work(situation: Situation, repairs: Sequence[str]) -> tuple[RepairEntry, ...]:
    """The repairs with these ids, each once. Raises InputError for one that cannot be.

    A piece of a set that may neither go back nor be renewed alone stands for the set.
    """
    family = situation.family
    for key in repairs:
        if key not in family.repairs:
            titles = {name: entry.title for name, entry in family.repairs.items()}
            raise InputError(
                f"repair: there is no {key[:60]!r}",
                field="repair",
                remedy=did_you_mean(key[:60], titles),
            )
        # named by hand, it need not be within reach of this workshop, but must be possible at all
        if not fits(family.repairs[key].needs, situation.known):
            raise InputError(
                f"repair: {family.repairs[key].title!r} does not fit this machine",
                field="repair",
                remedy="Choose another, or correct the intake",
            )
    # what was done so is done so, and stays on the bill as it was
    meant = (key if key in situation.tried else _by_set(situation, key) for key in repairs)
    return tuple(family.repairs[key] for key in dict.fromkeys(meant))


def _by_set(situation: Situation, key: str) -> str:
    word = set_word(situation, situation.family.repairs[key])
    return key if word is None or word.allowed else word.instead


def advised_work(case: JobCase, advised: str = "") -> tuple[RepairEntry, ...]:
    """What was done so far; while the machine is not right, also what is likely to be needed.

    ``advised``: id of the repair that the plan has come to, if it has. Raises InputError where
    nothing can be mended.
    """
    situation = case.situation
    # what was done is on the bill whether or not it helped
    work = dict.fromkeys(done_minutes(case))
    # a repair that waits for its proof may be the last: nothing more is promised before that
    if not work or not (situation.proven or situation.proof_due or case.job.closed):
        work |= dict.fromkeys(_likely_work(situation, case.prices, advised))
    if not work:
        raise InputError(
            "no suspect can be mended here",
            field="repair",
            remedy="Name a repair, or look for the fault first",
        )
    return tuple(case.family.repairs[key] for key in work)


def best_repair(situation: Situation, prices: Prices, fault: FaultEntry) -> RepairEntry | None:
    """The repair that cures a fault most surely, as far as it has gone.

    Of those nearly as sure, the cheapest; None where nothing that can be done here cures it.
    """
    shares = grade_shares(situation, fault)
    rated = [
        (cure, prices.repair_cost(entry) + _opening_cost(prices, entry), entry)
        for entry in situation.family.repairs.values()
        if (cure := cure_chance(entry, fault, shares)) > 0.0
        and entry.id not in situation.tried
        and can_be_done(entry, situation, prices.settings)
    ]
    if not rated:
        return None
    # a hair surer is not worth twice the price
    surest = max(cure for cure, _, _ in rated)
    return min(
        (each for each in rated if each[0] >= surest - NEARLY_AS_SURE), key=lambda each: each[1]
    )[2]


def covers(situation: Situation, work: Iterable[RepairEntry], fault: FaultEntry) -> bool:
    """Whether one of these repairs is held to deal with a fault."""
    # one that is as likely to cure as not counts: what it leaves is what may turn out worse
    shares = grade_shares(situation, fault)
    return any(cure_chance(entry, fault, shares) >= COVERED for entry in work)


def cure_chance(entry: RepairEntry, fault: FaultEntry, shares: dict[str, float]) -> float:
    """Probability that a repair cures a fault that has gone so far; ``shares`` by fault key."""
    # a repair that names the fault alone cures each grade of it alike
    any_grade = entry.cures.get(fault.id, 0.0)
    return sum(entry.cures.get(key, any_grade) * share for key, share in shares.items())


def grade_shares(situation: Situation, fault: FaultEntry) -> dict[str, float]:
    """How far a fault has gone, if it is there: shares by fault key that sum to 1."""
    by_key = situation.key_chances
    chances = {key: by_key[key] for key in fault.keys}
    # a fault ruled out has no shares; taken as equal, a repair that is named is still rated
    total = sum(chances.values())
    if total > 0:
        return {key: chance / total for key, chance in chances.items()}
    return dict.fromkeys(chances, 1 / len(chances))


def _likely_work(situation: Situation, prices: Prices, advised: str) -> list[str]:
    """Ids of the plan's repair and those for the leading suspect and every likely one besides."""
    family = situation.family
    work = [advised] if advised in family.repairs else []
    for fault_id, chance in situation.model.fault_chances(situation.probabilities).items():
        # the leading suspect is mended however unlikely it is: something must be
        if work and chance < LIKELY:
            break
        fault = family.faults[fault_id]
        entry = best_repair(situation, prices, fault)
        # one repair may cure two suspects: then the second asks for none of its own
        if entry and not covers(situation, [family.repairs[key] for key in work], fault):
            work.append(entry.id)
    return work


def _opening_cost(prices: Prices, entry: RepairEntry) -> float:
    """Minor units for opening and closing all that lies before a repair, the machine being shut."""
    # compared between repairs, so what stands open now must not favour one
    by_id = {panel.id: panel for panel in prices.panels()}
    way = panels_for(prices.family, entry.access)
    return sum(by_id[key].open + by_id[key].close for key in way)

"""What one closed job says, boiled down: enough to learn from it again without replaying it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.workshop.diagnosis.evidence.bench_time import bench_minutes
from counterpoise.workshop.diagnosis.family_model import FamilyModel, family_model
from counterpoise.workshop.jobs.choices import MISTAKE
from counterpoise.workshop.jobs.entries import Closed, Entry, Finding, Job, Proof, RepairDone
from counterpoise.workshop.jobs.family_money import money_of
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.learning.account import Account, Cure, account_of

# The likeliest sets of faults of a job are kept one by one, all others together as their mean.
MOST_SETS, LEFT_OUT = 250, 1e-3
# Minutes far off the written ones are slips of the thumb or a lunch break, not a pace.
LEAST_RATIO, MOST_RATIO = 0.1, 10.0
# Where the minutes of a whole job stand, beside those of its steps.
WHOLE_JOB = "job.minutes"


@dataclass(frozen=True)
class SpinFacts:
    """A recording of a closed job: its check, its words (O,), and what else is known of the job.

    ``beside`` (M + 1,) are log weights, as those of :class:`JobFacts`, by all but recordings.
    ``others`` and ``others_heard`` (O,) are the chances of each outcome on the other sets.
    """

    check: str
    words: Floats
    beside: Floats
    others: Floats
    others_heard: Floats


@dataclass(frozen=True)
class JobFacts:
    """A closed job: arrays over the M sets of faults that matter to it and, last, all others.

    ``rows`` (M,) number the sets in the family's model. Log weights (M + 1,): ``heard`` by age,
    kind and complaint, ``labelled`` by those and what the closing says, ``whole`` by everything.
    ``others`` (F,) is the share of the other sets, by ``whole``, with each fault, and
    ``others_heard`` (F,) by ``heard``. ``written`` (F,) is the chance of each fault beforehand,
    ``paces`` are (place, minutes taken to minutes written).
    """

    number: int
    closed_at: str
    ending: str
    rows: Ints
    heard: Floats
    labelled: Floats
    whole: Floats
    others: Floats
    others_heard: Floats
    written: Floats
    known: bool
    # somebody looked, measured, ran or mended it, or said at the closing what it was
    looked: bool
    readings: Mapping[str, tuple[Floats, ...]]
    cures: tuple[Cure, ...]
    paces: tuple[tuple[str, float], ...]
    # of a machine that was sold: price got to price expected, and days until it went
    price_ratio: float | None = None
    days_ratio: float | None = None
    spins: tuple[SpinFacts, ...] = ()


def facts_of(family: Family, settings: Settings, job: Job) -> JobFacts | None:
    """What a job says by the written figures of its family; None where it says nothing yet."""
    closing = next((e for e in reversed(job.standing) if isinstance(e.body, Closed)), None)
    # a job opened by mistake says nothing of any machine
    if closing is None or not isinstance(closing.body, Closed) or closing.body.ending == MISTAKE:
        return None
    model, account = family_model(family), account_of(family, settings, job)
    present, rows = present_by_fault(model), _that_matter(account)
    heard = account.prior * account.heard
    whole = heard * account.label * account.later
    price, days = _sale(family, settings, job, closing)
    said = closing.body
    known = bool(said.faults or said.likely or said.ruled_out)
    return JobFacts(
        number=job.number,
        closed_at=closing.at,
        ending=said.ending,
        rows=rows,
        heard=_with_others(heard, rows),
        labelled=_with_others(heard * account.label, rows),
        whole=_with_others(whole, rows),
        others=_of_others(whole, rows, present),
        others_heard=_of_others(heard, rows, present),
        written=account.prior @ present,
        known=known,
        looked=known or _looked(family, job),
        readings=account.readings,
        cures=account.cures,
        paces=tuple(_paces(family, job, bench_minutes(family, job))),
        price_ratio=price,
        days_ratio=days,
        spins=_spins(model, account, rows),
    )


def _spins(model: FamilyModel, account: Account, rows: Ints) -> tuple[SpinFacts, ...]:
    heard = account.prior * account.heard
    if account.beside is None:
        return ()
    beside = heard * account.beside
    return tuple(
        SpinFacts(
            check,
            words,
            _with_others(beside, rows),
            # not by fault but by outcome: what a recording of the other sets would point to
            _of_others(beside, rows, model.tables[check].T),
            _of_others(heard, rows, model.tables[check].T),
        )
        for check, words in account.spins
    )


def _looked(family: Family, job: Job) -> bool:
    """Whether anybody did more with the machine than to ask about it."""
    bodies = [entry.body for entry in job.standing]
    done = [family.checks.get(b.check) for b in bodies if isinstance(b, Finding)]
    asked_only = all(check is None or check.kind == "ask" or check.tells for check in done)
    return not asked_only or any(isinstance(body, RepairDone | Proof) for body in bodies)


def _with_others(weights: Floats, rows: Ints) -> Floats:
    """(M + 1,) log of the weights (S,) of these sets, and of all others together."""
    kept = weights[rows]
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.append(kept, max(0.0, weights.sum() - kept.sum()))))


def _of_others(weights: Floats, rows: Ints, present: Floats) -> Floats:
    """(F,) share of all other sets, by their weights (S,), that has each fault."""
    left = weights.copy()
    left[rows] = 0.0
    return np.asarray(left @ present / max(left.sum(), 1e-300))


def present_by_fault(model: FamilyModel) -> Floats:
    """(S, F) whether each set has each fault, whatever its grade."""
    return np.array([model.mask(fault) for fault in model.family.faults], dtype=np.float64).T


def _that_matter(account: Account) -> Ints:
    """(M,) the sets that hold the belief at the intake or now, rising."""
    kept: set[int] = set()
    for weights in (account.belief(), account.prior * account.heard):
        order = np.argsort(-weights, kind="stable")[:MOST_SETS]
        sums = np.cumsum(weights[order]) / weights.sum()
        kept |= set(order[: int(np.searchsorted(sums, 1.0 - LEFT_OUT)) + 1].tolist())
    return np.array(sorted(kept), dtype=np.int64)


def _paces(family: Family, job: Job, counted: float) -> Iterator[tuple[str, float]]:
    """What was timed, by place of the minutes in the catalog, as a ratio to what is written.

    ``counted``: the minutes of the whole job as replayed.
    """
    for entry in job.standing:
        body = entry.body
        taken = getattr(body, "minutes", None)
        if taken is None or taken <= 0:
            continue
        place, written = "", 0.0
        if isinstance(body, Closed):
            # counted in all at the closing: it speaks of the hand, not of a step
            place, written = WHOLE_JOB, counted
        elif isinstance(body, Finding) and body.check in family.checks:
            place, written = f"checks.{body.check}.minutes", family.checks[body.check].minutes
        elif isinstance(body, RepairDone) and body.repair in family.repairs:
            place, written = f"repairs.{body.repair}.minutes", family.repairs[body.repair].minutes
        elif isinstance(body, Proof):
            place, written = "proof.minutes", family.proof_minutes
        if written > 0 and LEAST_RATIO <= taken / written <= MOST_RATIO:
            yield place, taken / written


def _sale(
    family: Family, settings: Settings, job: Job, closing: Entry
) -> tuple[float | None, float | None]:
    """Price got to the price expected, and days to sell to the days expected; None: not sold."""
    body, intake = closing.body, job.intake
    if not isinstance(body, Closed) or body.ending != "repair_resell" or not body.received_minor:
        return None, None  # a customer's machine has no price, and some closings name no sum
    money = money_of(family, settings)
    age = settings.unknown_age_years if intake.age_years is None else intake.age_years
    expected = money.resale_new_minor * (1.0 - money.resale_fall_percent / 100.0) ** age
    # for sale from the last thing done to it
    work = [e for e in job.standing if isinstance(e.body, Proof | RepairDone)]
    days = None
    if work and money.days_to_sell > 0:
        waited = date.fromisoformat(closing.at[:10]) - date.fromisoformat(work[-1].at[:10])
        # sold on the day it was done still took part of one
        days = max(waited.days, 0.5) / money.days_to_sell
    return (body.received_minor / expected if expected > 0 else None), days


__all__ = ["JobFacts", "facts_of", "present_by_fault"]

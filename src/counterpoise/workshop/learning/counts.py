"""What checks showed, repairs cured, steps took and machines brought: counted and made figures."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.learning.answers import given_by, learned_row
from counterpoise.learning.paces import Pace, pooled
from counterpoise.learning.pooling import Start
from counterpoise.learning.shares import Share
from counterpoise.reasoning.evidence import fits_of
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.likelihood import full_row
from counterpoise.workshop.diagnosis.family_model import family_model, reasoning_check
from counterpoise.workshop.jobs.family_money import money_of
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.learning.facts import WHOLE_JOB, JobFacts
from counterpoise.workshop.learning.learned import NO_STARTS, FaultRates, LearnedFigure
from counterpoise.workshop.learning.strengths import (
    CURE,
    DAYS_SPREAD,
    HAND,
    LEAST_COUNT,
    PRICE_SPREAD,
    ROW,
    SALE,
    STEP,
    strength,
)

# a job bears on a row from this weight on
_BEARS = 0.25


@dataclass
class _Counted:
    """Counts (O,) of a row, and the jobs behind them."""

    counts: Floats
    jobs: list[int] = field(default_factory=list)


def row_figures(
    family: Family,
    jobs: Sequence[JobFacts],
    rates: FaultRates,
    shares: Floats,
    starts: Mapping[str, Start] = NO_STARTS,
) -> Iterator[LearnedFigure]:
    """What checks show under each fault, and under none that they speak of.

    ``shares`` (J,) is how much each job counts; ``starts`` what other workshops say, by place.
    """
    model = family_model(family)
    ids = {key: i for i, key in enumerate(model.hypotheses.fault_ids)}
    for name, entry in family.checks.items():
        done = [j for j, job in enumerate(jobs) if name in job.readings]
        if not done or entry.tells:
            continue
        columns = [ids[key] for key in entry.under if key in ids]
        counted = {key: _Counted(np.zeros(len(entry.outcomes))) for key in (*entry.under, "")}
        for j in done:
            named = model.hypotheses.present[jobs[j].rows][:, columns]
            alone = named.sum(axis=1) == 1
            # the other sets, the last of all, are a mean and tell nothing of one fault
            belief = rates.beliefs[j][:-1] * shares[j]
            # of two faults that the check speaks of, nobody knows which of them it showed
            by_key = (belief[:, None] * (named & alone[:, None])).sum(axis=0)
            weights = dict(zip([k for k in entry.under if k in ids], by_key, strict=True))
            weights[""] = float(belief[named.sum(axis=1) == 0].sum())
            _count(entry, model.slips[name], jobs[j], weights, counted)
        yield from _rows(entry, counted, starts)


def _count(
    entry: CheckEntry,
    slips: Floats,
    job: JobFacts,
    weights: dict[str, float],
    counted: dict[str, _Counted],
) -> None:
    check = reasoning_check(entry)
    leak = full_row(check, check.otherwise)
    fits = np.prod([fits_of(each, slips) for each in job.readings[entry.id]], axis=0)
    for key, weight in weights.items():
        if weight < 1e-3:
            continue
        lone = entry.exclusive or entry.unordered
        row = leak if key == "" else full_row(check, entry.under[key])
        own = given_by(row, None if lone or key == "" else leak, fits)
        counted[key].counts = counted[key].counts + weight * own
        if weight >= _BEARS:
            counted[key].jobs.append(job.number)


def _rows(
    entry: CheckEntry, counted: dict[str, _Counted], starts: Mapping[str, Start]
) -> Iterator[LearnedFigure]:
    check = reasoning_check(entry)
    for key, row in counted.items():
        total = float(row.counts.sum())
        if total < LEAST_COUNT:
            continue
        written = full_row(check, entry.under[key] if key else check.otherwise)
        place = f"checks.{entry.id}." + (f"under.{key}" if key else "otherwise")
        begun, worth = _begun(entry, written, [starts.get(f"{place}.{o}") for o in entry.outcomes])
        after = learned_row(begun, worth, row.counts)
        # the first outcome is what a row leaves over, and is not written
        for i, outcome in enumerate(list(entry.outcomes)[1:], 1):
            here = float(after[i])
            if max(written[i], here) < 1e-3:
                continue
            share = Share.believed(min(max(here, 1e-6), 1 - 1e-6), worth + total)
            yield LearnedFigure(
                f"{place}.{outcome}", float(written[i]), here, *share.range(),
                worth + total, tuple(row.jobs), len(row.jobs),
            )  # fmt: skip


def _begun(
    entry: CheckEntry, written: Floats, starts: Sequence[Start | None]
) -> tuple[Floats, float]:
    """The row (O,) that counting begins with, and what it is worth; ``starts`` by outcome."""
    worth, row = strength(ROW, entry.source), written.copy()
    given = [(i, start) for i, start in enumerate(starts) if start]
    for i, start in given:
        row[i] = start.mean
    if given:
        # outcomes are pooled each by itself: the first is left over, and the sum is seen to
        row[0] = max(1.0 - row[1:].sum(), 1e-3)
        row /= row.sum()
        worth = min(start.worth for _, start in given)
    return row, worth


def cure_figures(
    family: Family,
    jobs: Sequence[JobFacts],
    shares: Floats,
    starts: Mapping[str, Start] = NO_STARTS,
) -> Iterator[LearnedFigure]:
    """How surely repairs cure what they met, from those that were proved."""
    # by repair and fault key; a belief counts as far as it goes
    there: dict[tuple[str, str], float] = defaultdict(float)
    cured: dict[tuple[str, str], float] = defaultdict(float)
    behind: dict[tuple[str, str], list[int]] = defaultdict(list)
    for job, share in zip(jobs, shares.tolist(), strict=True):
        for cure in job.cures:
            for key, met in cure.there.items():
                place = (cure.repair, key)
                there[place] += share * met
                cured[place] += share * cure.cured[key]
                if met >= _BEARS:
                    behind[place].append(job.number)
    for (name, key), met in there.items():
        entry = family.repairs[name]
        written = entry.cures[key]
        if met < LEAST_COUNT or not 0.0 < written < 1.0:
            continue
        at = f"repairs.{name}.cures.{key}"
        begun = starts.get(at) or Start(written, strength(CURE, entry.source), 0)
        start = Share.believed(begun.mean, begun.worth)
        share = start.updated(cured[name, key], max(0.0, met - cured[name, key]))
        yield LearnedFigure(
            at, written, share.mean, *share.range(),
            share.yes + share.no, tuple(behind[name, key]), len(behind[name, key]),
        )  # fmt: skip


def pace_figures(
    family: Family, jobs: Sequence[JobFacts], shares: Floats
) -> Iterator[LearnedFigure]:
    """The minutes of every check and repair, and of the proof, as this hand needs them.

    What was never timed goes by the pace of the hand; nothing where nothing was timed at all.
    """
    # by place: the sum of the ratios and how many, each as far as its job counts
    sums: dict[str, tuple[float, float]] = {}
    behind: dict[str, list[int]] = defaultdict(list)
    for job, share in zip(jobs, shares.tolist(), strict=True):
        for place, ratio in job.paces:
            total, count = sums.get(place, (0.0, 0.0))
            sums[place] = total + share * ratio, count + share
            behind[place].append(job.number)
    if not sums:
        return
    written = {f"checks.{c.id}.minutes": c.minutes for c in family.checks.values()}
    written |= {f"repairs.{r.id}.minutes": r.minutes for r in family.repairs.values()}
    written["proof.minutes"] = family.proof_minutes
    all_jobs = sorted({number for numbers in behind.values() for number in numbers})
    paces = pooled(
        {p: sums.get(p, (0.0, 0.0)) for p in [*written, WHOLE_JOB]}, hand=HAND, step=STEP
    )
    for place, pace in paces.items():
        minutes = written.get(place, 0.0)
        if minutes <= 0:
            continue
        low, high = pace.range()
        jobs_behind = tuple(dict.fromkeys(behind[place])) or tuple(all_jobs)
        yield LearnedFigure(
            place, minutes, minutes * pace.mean, minutes * low, minutes * high,
            pace.weight, jobs_behind, len(jobs_behind),
        )  # fmt: skip


def sale_figures(
    family: Family, settings: Settings, jobs: Sequence[JobFacts], shares: Floats
) -> Iterator[LearnedFigure]:
    """What a repaired machine brings and how long it takes to sell."""
    money = money_of(family, settings)
    for name, field_name, spread in (
        ("resale_new_minor", "price_ratio", PRICE_SPREAD),
        ("days_to_sell", "days_ratio", DAYS_SPREAD),
    ):
        # what the workshop set itself is its own word, and a family that says nothing has no figure
        if settings.set_for(family.id, name) is not None or family.money is None:
            continue
        if getattr(family.money, name) is None:
            continue
        pairs = [
            (job.number, getattr(job, field_name), share)
            for job, share in zip(jobs, shares.tolist(), strict=True)
            if getattr(job, field_name) is not None
        ]
        if not pairs:
            continue
        # prices by the figure for age 0: the fall with age is taken as written
        total = sum(ratio * share for _, ratio, share in pairs)
        pace = Pace.believed(1.0, SALE, spread).updated(total, sum(s for _, _, s in pairs))
        written, (low, high) = float(getattr(money, name)), pace.range()
        numbers = tuple(number for number, _, _ in pairs)
        yield LearnedFigure(
            f"money.{name}", written, written * pace.mean, written * low, written * high,
            pace.weight, numbers, len(numbers),
        )  # fmt: skip

"""A second opinion in plain Python: every possibility in turn; no bounds, no arrays.

Written from the meaning of the model alone. A belief is a dictionary from sets of fault ids to
probabilities.
"""

from __future__ import annotations

from itertools import combinations, product
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.reasoning.model import Check, Model, Repair

Belief = dict[frozenset, float]
GONE = 1e-12


def prior(model: Model) -> Belief:
    """Every admitted set of faults, weighed and normalised."""
    faults = {fault.id: fault for fault in model.faults}
    if model.prior == "exactly_one":
        weights = {frozenset([name]): fault.prior for name, fault in faults.items()}
    else:
        weights = {}
        for size in range(model.max_faults + 1):
            for chosen in combinations(faults, size):
                if not admitted([faults[name] for name in chosen]) or (
                    size == 0 and not model.nothing_wrong
                ):
                    continue
                weight = 1.0
                for name, fault in faults.items():
                    weight *= fault.prior if name in chosen else 1 - fault.prior
                weights[frozenset(chosen)] = weight
    total = sum(weights.values())
    return {faults: weight / total for faults, weight in weights.items() if weight > 0}


def admitted(chosen) -> bool:
    groups = [fault.group for fault in chosen if fault.group is not None]
    return len(groups) == len(set(groups)) and (
        len(chosen) < 2 or not any(fault.alone for fault in chosen)
    )


def row(check: Check, given) -> list[float]:
    """All chances of one cause; the first outcome gets what is left."""
    chances = [given.get(outcome, 0.0) for outcome in check.outcomes]
    chances[0] = 1 - sum(chances[1:])
    return chances


def outcome_chances(check: Check, faults: frozenset) -> list[float]:
    """Let every cause give its own outcome, in all combinations; the worst is seen."""
    named = [name for name in faults if name in check.under]
    causes = [row(check, check.under[name]) for name in named]
    # no answer is worse than another: one of the named causes is asked, each as often
    if check.unordered:
        rows = [row(check, check.under[name]) for name in named] or [row(check, check.otherwise)]
        return [sum(chances) / len(rows) for chances in zip(*rows, strict=True)]
    if not (check.exclusive and named):
        causes.append(row(check, check.otherwise))
    seen = [0.0] * len(check.outcomes)
    for each in product(range(len(check.outcomes)), repeat=len(causes)):
        chance = 1.0
        for cause, outcome in zip(causes, each, strict=True):
            chance *= cause[outcome]
        seen[max(each)] += chance
    return seen


def noisy_or(inhibitions: dict[str, float], present: frozenset, leak: float = 0.0) -> float:
    """Chance of the effect when each present cause fails to bring it about with its inhibition.

    Russell and Norvig, *Artificial Intelligence: A Modern Approach*, the noisy-OR table.
    """
    silent = 1.0 - leak
    for cause in present:
        silent *= inhibitions[cause]
    return 1.0 - silent


def observe(belief: Belief, check: Check, outcome: int) -> Belief:
    """Bayes."""
    joint = {
        faults: weight * outcome_chances(check, faults)[outcome]
        for faults, weight in belief.items()
    }
    total = sum(joint.values())
    return {faults: weight / total for faults, weight in joint.items() if weight > GONE * total}


def repaired(belief: Belief, repair: Repair) -> Belief:
    """Each fault that the repair touches is cured on its own; nothing else changes."""
    after: Belief = {}
    for faults, weight in belief.items():
        touched = [name for name in faults if repair.cures.get(name, 0) > 0]
        for flags in product((True, False), repeat=len(touched)):
            chance, left = weight, set(faults)
            for name, cured in zip(touched, flags, strict=True):
                chance *= repair.cures[name] if cured else 1 - repair.cures[name]
                if cured:
                    left.discard(name)
            if chance > 0:
                after[frozenset(left)] = after.get(frozenset(left), 0.0) + chance
    return after


class Brute:
    """The best plan by trying everything, each state once."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.panels = {panel.id: panel for panel in model.access}
        self.known: dict = {}
        self.tables: dict = {}

    def worth(self) -> float:
        """Value of the best plan."""
        return self.best(prior(self.model), frozenset(), frozenset(), frozenset())

    def first_steps(self) -> dict[tuple[str, str], float]:
        """Every first step with the value of the best plan that begins with it."""
        return self.steps(prior(self.model), frozenset(), frozenset(), frozenset())

    def best(self, belief: Belief, done: frozenset, tried: frozenset, opened: frozenset) -> float:
        key = (
            frozenset((faults, round(weight, 11)) for faults, weight in belief.items()),
            done,
            tried,
            opened,
        )
        if key not in self.known:
            self.known[key] = max(self.steps(belief, done, tried, opened).values())
        return self.known[key]

    def steps(self, belief: Belief, done: frozenset, tried: frozenset, opened: frozenset) -> dict:
        model, found = self.model, {}
        for ending in model.endings:
            found["ending", ending.id] = sum(
                weight * (ending.base + sum(ending.per_fault.get(name, 0.0) for name in faults))
                for faults, weight in belief.items()
            )
        for check in model.checks:
            if check.id not in done:
                found["check", check.id] = self.look(belief, check, done, tried, opened)
        could_help = False
        for repair in model.repairs:
            if repair.id not in tried and any(
                repair.cures.get(name, 0) > 0 for faults in belief for name in faults
            ):
                could_help = True
                found["repair", repair.id] = self.mend(belief, repair, done, tried, opened)
        if model.nothing_wrong and "retest" not in tried:
            found["repair", "retest"] = self.prove(belief, done, tried | {"retest"}, opened, 0.0)
        if not model.endings and not could_help:
            found["ending", ""] = 0.0
        return found

    def look(self, belief: Belief, check: Check, done, tried, opened) -> float:
        price, now_open = self.reach(check.access, frozenset() if check.shuts else opened)
        value = -check.cost - price
        for outcome in range(len(check.outcomes)):
            chance = sum(
                weight * self.chances(check, faults)[outcome] for faults, weight in belief.items()
            )
            if chance > GONE:
                value += chance * self.best(
                    observe(belief, check, outcome), done | {check.id}, tried, now_open
                )
        return value

    def mend(self, belief: Belief, repair: Repair, done, tried, opened) -> float:
        price, now_open = self.reach(repair.access, opened)
        after = repaired(belief, repair)
        return self.prove(after, done, tried | {repair.id}, now_open, repair.cost + price)

    def prove(self, belief: Belief, done, tried, opened, spent: float) -> float:
        """The retest: pass and be paid, or go on."""
        retest, value, left = self.model.retest, -spent - self.model.retest.cost, {}
        for faults, weight in belief.items():
            if not faults:
                value += weight * self.model.working
            else:
                value += weight * retest.misses * (self.model.working - retest.comeback)
                left[faults] = weight * (1 - retest.misses)
        mass = sum(left.values())
        if mass > GONE:
            still_open = frozenset() if retest.shuts else opened
            value += mass * self.best(
                {faults: w / mass for faults, w in left.items()}, done, tried, still_open
            )
        return value

    def reach(self, access: str | None, opened: frozenset) -> tuple[float, frozenset]:
        price, now_open = 0.0, set(opened)
        while access is not None:
            panel = self.panels[access]
            if access not in now_open:
                price += panel.open + panel.close
                now_open.add(access)
            access = panel.behind
        return price, frozenset(now_open)

    def chances(self, check: Check, faults: frozenset) -> list[float]:
        if (check.id, faults) not in self.tables:
            self.tables[check.id, faults] = outcome_chances(check, faults)
        return self.tables[check.id, faults]

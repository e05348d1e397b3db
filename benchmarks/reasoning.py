"""Speed of belief and planning beside peers, the answers held equal first; processor time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from time import process_time
from typing import TYPE_CHECKING, TypedDict

import numpy as np
from tests.reasoning.judges.belief_network import gum
from tests.reasoning.judges.brute_force import Brute
from tests.reasoning.random_models import Size, draw

from counterpoise.catalog.loader import load_family
from counterpoise.catalog.priors import independent_priors
from counterpoise.reasoning.belief import marginals, observe, to_log
from counterpoise.reasoning.hypotheses import enumerate_hypotheses, prior_of
from counterpoise.reasoning.likelihood import full_row, outcome_table
from counterpoise.reasoning.model import Fault, Model
from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.reasoning.planning.lookahead import Lookahead
from counterpoise.reasoning.problem import compile_model
from counterpoise.workshop.diagnosis.analysis import EFFORT
from counterpoise.workshop.diagnosis.family_model import reasoning_check
from counterpoise.workshop.diagnosis.problem import MAX_DROPPED, MAX_SETS
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.world import World, draw_machine, problem_at_intake

if TYPE_CHECKING:
    from collections.abc import Callable

    from counterpoise.catalog.family import Family
    from counterpoise.reasoning.hypotheses import Floats
    from counterpoise.reasoning.kernels.arrays import Arrays
    from counterpoise.reasoning.problem import Problem

ROUNDS = 5
# Size of the sub-network that the exact inference of the peer can hold.
FAULTS, CHECKS, CAUSES = 12, 12, 6
MACHINES = 40
NEAR = 1e-6


class Row(TypedDict):
    """A comparison: rates of ours and of the peer, and ours over the peer's."""

    name: str
    ours: float
    peer: float
    peer_name: str
    ratio: float
    unit: str
    work: str


def row(name: str, ours_s: float, peer_s: float, peer_name: str, unit: str, work: str) -> Row:
    """A comparison from the seconds that one piece of work takes."""
    return {
        "name": name,
        "ours": float(f"{1 / ours_s:.4g}"),
        "peer": float(f"{1 / peer_s:.4g}"),
        "peer_name": peer_name,
        "ratio": float(f"{peer_s / ours_s:.3g}"),
        "unit": unit,
        "work": work,
    }


def taken(call: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Shortest processor time of a call, seconds."""
    times = []
    for _ in range(rounds):
        start_s = process_time()
        call()
        times.append(process_time() - start_s)
    return max(min(times), 1e-9)


def against_brute_force(size: Size, seed: int, kind: str) -> Row:
    model = draw(np.random.default_rng(seed), size)
    problem = compile_model(model)
    plan, worth = solve_exactly(problem), Brute(model).worth()
    if not plan.exact or abs(plan.value - worth) > NEAR:
        raise SystemExit(f"the two disagree: {plan.value} and {worth}")
    work = (
        f"{kind}: {size.faults} faults, {size.checks} checks, {size.repairs} repairs, "
        f"{size.panels} panels; "
    )
    return row(
        f"exact plan, {kind}",
        taken(lambda: solve_exactly(problem, slots=1 << 16)),
        taken(lambda: Brute(model).worth(), 1),
        "memoised dynamic programme in plain Python",
        "models per second",
        work + f"the hardest of sixty drawn; {plan.states} states, the same value to 1e-6",
    )


def sub_network(family: Family) -> Model:
    """The commonest faults of the family, and the checks with most to say of them.

    Only checks of at most CAUSES causes, for the peer writes each out as one table.
    """
    priors = independent_priors(family, age_years=7.0, features={})
    first = {fault.keys[0] for fault in family.faults.values() if not fault.alone}
    names = sorted(first, key=lambda name: -priors.get(name, 0.0))[:FAULTS]
    checks = []
    for entry in family.checks.values():
        check = reasoning_check(entry)
        under = {name: given for name, given in check.under.items() if name in names}
        if 0 < len(under) <= CAUSES and not check.exclusive:
            checks.append(replace(check, under=under, access=None))
    checks.sort(key=lambda check: -len(check.under))
    return Model(
        tuple(Fault(name, priors[name]) for name in names),
        "independent",
        max_faults=FAULTS,
        nothing_wrong=True,
        checks=tuple(checks[:CHECKS]),
    )


def network_of(model: Model) -> gum.BayesNet:
    """The same as a Bayesian network: a node for each fault and check, noisy-MAX as a table."""
    net = gum.BayesNet()
    for fault in model.faults:
        net.add(gum.LabelizedVariable(fault.id, fault.id, 2))
        net.cpt(fault.id).fillWith([1 - fault.prior, fault.prior])
    for check in model.checks:
        net.add(gum.LabelizedVariable(check.id, check.id, len(check.outcomes)))
        for name in check.under:
            net.addArc(name, check.id)
        rows = {name: np.cumsum(full_row(check, given)) for name, given in check.under.items()}
        leak = np.cumsum(full_row(check, check.otherwise))
        for each in np.ndindex(*[2] * len(rows)):
            present = [chances for chances, there in zip(rows.values(), each, strict=True) if there]
            table = np.diff(np.prod([leak, *present], axis=0), prepend=0.0)
            net.cpt(check.id)[dict(zip(rows, map(int, each), strict=True))] = np.maximum(
                table, 0.0
            ).tolist()
    return net


def belief(family: Family) -> Row:
    model = sub_network(family)
    hypotheses = enumerate_hypotheses(model)
    prior = to_log(prior_of(model, hypotheses))
    tables = [outcome_table(check, hypotheses) for check in model.checks]
    names = [fault.id for fault in model.faults]
    judge = gum.LazyPropagation(network_of(model))
    judge.setTargets(set(names))
    outcomes = {check.id: int(i % 3 == 0) for i, check in enumerate(model.checks)}

    def ours() -> Floats:
        now = prior
        for table, check in zip(tables, model.checks, strict=True):
            now = observe(now, table, np.eye(len(check.outcomes))[outcomes[check.id]])
        return marginals(np.exp(now), hypotheses)

    def theirs() -> list[float]:
        judge.setEvidence({})
        chances: list[float] = []
        # one finding after the other, the suspects asked for each time
        for count in range(1, len(outcomes) + 1):
            judge.setEvidence(dict(list(outcomes.items())[:count]))
            judge.makeInference()
            chances = [float(judge.posterior(name)[1]) for name in names]
        return chances

    difference = float(np.abs(ours() - np.array(theirs())).max())
    if difference > NEAR:
        raise SystemExit(f"the two disagree by {difference}")
    work = (
        f"part of the front loader's network: its {FAULTS} commonest faults in every combination "
        f"({len(hypotheses.sets)} sets) and {len(tables)} checks of at most {CAUSES} causes; "
        "the whole is beyond one table a check, some have over twenty causes; "
        f"findings one by one, marginals equal to {difference:.0e}"
    )
    many = len(tables)
    return row(
        "belief after a finding",
        taken(ours) / many,
        taken(theirs) / many,
        f"pyAgrum {gum.__version__}, LazyPropagation",
        "findings per second",
        work,
    )


@dataclass
class Unpruned:
    """One-step lookahead in numpy: every check, every outcome, plain repairing after it."""

    problem: Problem
    k: Arrays

    def best(self) -> float:
        p = self.problem
        values = [self.look(c) for c in range(len(p.checks)) if not p.done >> c & 1]
        return max([self.repairing(p.prior, p.tried, p.opened), *values])

    def look(self, c: int) -> float:
        p, k = self.problem, self.k
        still_open = p.opened & int(k.check_keeps[c])
        now_open = still_open | int(k.check_panels[c])
        value = -float(k.check_cost[c]) - self.opening(int(k.check_panels[c]), still_open)
        for o in range(int(k.outcomes[c])):
            joint = p.prior * k.table[c, o]
            mass = float(joint.sum())
            if mass > 0:
                value += mass * self.repairing(joint / mass, p.tried, now_open)
        return value

    def opening(self, needed: int, opened: int) -> float:
        missing = needed & ~opened
        return sum(float(cost) for i, cost in enumerate(self.k.panel_cost) if missing >> i & 1)

    def repairing(self, w: Floats, tried: int, opened: int) -> float:
        """Repair by chance over cost, stopping where stopping is best."""
        k, steps, mass = self.k, [], 1.0
        present = self.problem.hypotheses.present
        while mass > 0.01:
            cured = k.cure[:, :-1] @ (w @ present)
            price = np.array(
                [
                    k.repair_cost[r] + self.opening(int(k.repair_panels[r]), opened)
                    for r in range(cured.size)
                ]
            )
            ratio = np.where([tried >> r & 1 for r in range(cured.size)], -1.0, cured / price)
            r = int(np.argmax(ratio))
            if ratio[r] <= 1e-12:
                break
            stop = float((k.ending_value @ w).max())
            after = self.after(w, r)
            passed = after * k.pass_chance
            steps.append((stop, float(price[r]) * mass, float(passed @ k.pass_value)))
            w = after - passed
            mass, tried = float(w.sum()), tried | 1 << r
            opened = (opened | int(k.repair_panels[r])) & k.retest_keeps
        value = float((k.ending_value @ w).max())
        for stop, price_paid, gained in reversed(steps):
            value = max(stop, gained - price_paid + value)
        return value

    def after(self, w: Floats, r: int) -> Floats:
        k = self.k
        moves = slice(int(k.move_start[r]), int(k.move_start[r + 1]))
        moved = w[k.move_source[moves]] * k.move_chance[moves]
        gone = np.bincount(k.move_source[moves], moved, w.size)
        return np.asarray(w - gone + np.bincount(k.move_target[moves], moved, w.size))


def planned(problem: Problem) -> Lookahead:
    """The problem planned as the bench page plans it."""
    smaller, _ = problem.narrowed(MAX_DROPPED, MAX_SETS)
    look = Lookahead(smaller, pair=True)
    look.plan(EFFORT)
    return look


def next_steps(family: Family) -> list[Row]:
    world, rng = World.of(family, Settings()), np.random.default_rng(1)
    problems = [
        problem_at_intake(world.model, world.settings, draw_machine(world, rng))
        for _ in range(MACHINES)
    ]
    planned(problems[0])
    ours = [taken(lambda problem=problem: planned(problem), 1) for problem in problems]
    theirs = []
    for problem in problems[:: MACHINES // 8]:
        smaller = problem.narrowed(MAX_DROPPED, MAX_SETS)[0]
        peer = Unpruned(smaller, smaller.arrays())
        theirs.append(taken(peer.best, 1))
        if planned(problem).result().lower < peer.best() - NEAR * abs(peer.best()):
            raise SystemExit("the plain lookahead earns more")
    work = (
        f"next step of {MACHINES} drawn front loaders at intake, {len(problems[0].checks)} checks, "
        f"{len(problems[0].repairs)} repairs; ours looks further ahead and earns at least as much "
        "on each; "
        f"{{}} ms against {{}} ms ({len(theirs)} machines)"
    )
    return [
        row(
            f"next step, {name}",
            a := float(np.percentile(ours, share)),
            b := float(np.percentile(theirs, share)),
            "unpruned one-step lookahead in numpy",
            "steps per second",
            work.format(f"{1e3 * a:.0f}", f"{1e3 * b:.0f}"),
        )
        for name, share in (("median", 50), ("95 in 100", 95))
    ]


def rows() -> list[Row]:
    """Every comparison of the reasoning room."""
    family = load_family("front_loader")
    return [
        against_brute_force(Size(6, 4, 5, 3), 17, "noisy checks"),
        against_brute_force(Size(8, 8, 4, 4, sharp=True), 33, "sharp checks"),
        belief(family),
        *next_steps(family),
    ]

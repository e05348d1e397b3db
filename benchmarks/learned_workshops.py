"""Virtual workshops that learn: do the ranges hold, and what does learning bring?

``python -m benchmarks.learned_workshops [--workshops 300] [--seed 1]``

Coverage: faults come as the written shares say, give or take what those are said to be worth; which
checks are done, and whether a closing says what it was, is drawn. Net: one fault a machine, checks
that miss, repairs that fail; the best plan by what is believed is found by working through all
states, and what it brings is reckoned exactly in the workshop as it is. All figures are invented.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from counterpoise.learning.answers import given_by, learned_row
from counterpoise.learning.rates import Cases, learn_rates

Floats = NDArray[np.float64]
SHARES = np.array([0.35, 0.25, 0.2, 0.12, 0.08, 0.05])
STRENGTH = 40.0
ROW_STRENGTH = 20.0


# --- do the ranges hold? ---


def coverage(workshops: int, jobs: int, rng: np.random.Generator) -> tuple[float, int]:
    """Share of the true fault shares that lie in their 80 % range, and how many were asked."""
    faults = len(SHARES)
    sets = [(), *((i,) for i in range(faults)), *combinations(range(faults), 2)]
    present = np.array([[i in each for i in range(faults)] for each in sets], dtype=float)

    def prior_of(shares: Floats) -> Floats:
        chances = np.prod(np.where(present > 0, shares, 1 - shares), axis=1)
        # three faults at once are left out, as the program leaves out four
        return np.asarray(chances / chances.sum())

    def comes(shares: Floats) -> Floats:
        return np.asarray(prior_of(shares) @ present)

    held = 0
    for _ in range(workshops):
        truth = rng.beta(STRENGTH * SHARES, STRENGTH * (1 - SHARES))
        drawn = rng.choice(len(sets), size=jobs, p=prior_of(truth))
        there = present[drawn]
        like = np.ones((jobs, len(sets)))
        # a look at each fault that is done half the time, and errs one time in six
        done = rng.random((jobs, faults)) < 0.5
        shown = np.where(rng.random((jobs, faults)) < 5 / 6, there, 1 - there)
        for f in range(faults):
            fits = np.where(shown[:, [f]] == present[:, f], 5 / 6, 1 / 6)
            like *= np.where(done[:, [f]], fits, 1.0)
        # six closings in ten say what it was
        known = rng.random(jobs) < 0.6
        like[known] = np.where(np.arange(len(sets)) == drawn[known][:, None], 1.0, 1e-12)
        cases = Cases(
            np.tile(present, (jobs, 1)),
            np.log(like * prior_of(SHARES)).ravel(),
            np.repeat(np.arange(jobs), len(sets)),
            np.ones(jobs),
            np.tile(comes(SHARES), (jobs, 1)),
        )
        rates = learn_rates(cases, SHARES, np.full(faults, STRENGTH), comes=comes)
        for f in range(faults):
            low, high = rates.share(f).range(0.8)
            held += low <= truth[f] <= high
    return held / (workshops * faults), workshops * faults


# --- what does it bring? ---


@dataclass(frozen=True)
class Bench:
    """One fault of F a machine: how often it is which, how checks show it (F,), what work costs."""

    shares: Floats
    shows: Floats
    alarm: float = 0.05
    check: tuple[float, ...] = (6.0, 9.0, 6.0, 12.0)
    repair: tuple[float, ...] = (45.0, 70.0, 35.0, 90.0)
    cures: float = 0.95
    works: float = 130.0


# what has been done to a machine: by fault, check not done, good or bad (0, 1, 2), and not mended
State = tuple[tuple[int, ...], tuple[int, ...]]


def weights(bench: Bench, state: State) -> Floats:
    """(F,) chance of each fault and of all that was found so far."""
    looks, failed = state
    chance = bench.shares.copy()
    for f, look in enumerate(looks):
        if look:
            bad = np.full(len(chance), bench.alarm)
            bad[f] = bench.shows[f]
            chance *= bad if look == 2 else 1.0 - bad
        if failed[f]:
            chance[f] *= 1.0 - bench.cures
    return chance


def actions(state: State) -> list[tuple[str, int]]:
    """What can be done: stop, look, or mend; each look and each repair once."""
    looks, failed = state
    open_ = [("look", f) for f in range(len(looks)) if not looks[f]]
    return [("stop", 0), *open_, *(("mend", f) for f in range(len(looks)) if not failed[f])]


def worth(bench: Bench, state: State, done: tuple[str, int], after: dict[State, float]) -> float:
    """Worth of an action, weighed by the chance of the state, with the worth of what follows."""
    kind, f = done
    if kind == "stop":
        return 0.0
    chance = weights(bench, state).sum()
    looks, failed = state
    if kind == "look":
        ends = [((*looks[:f], o, *looks[f + 1 :]), failed) for o in (1, 2)]
        return -bench.check[f] * chance + sum(after[end] for end in ends)
    cured = weights(bench, state)[f] * bench.cures
    rest = (looks, (*failed[:f], 1, *failed[f + 1 :]))
    return -bench.repair[f] * chance + cured * bench.works + after[rest]


def states(faults: int) -> list[State]:
    """All states, those with most done first."""
    looks = np.array(np.meshgrid(*[[0, 1, 2]] * faults)).T.reshape(-1, faults)
    tried = np.array(np.meshgrid(*[[0, 1]] * faults)).T.reshape(-1, faults)
    both = [(tuple(a), tuple(b)) for a in looks.tolist() for b in tried.tolist()]
    return sorted(both, key=lambda s: -(sum(map(bool, s[0])) + sum(s[1])))


ALL = states(4)


def plan(bench: Bench) -> dict[State, tuple[str, int]]:
    """The best action in each state, by what is believed."""
    after: dict[State, float] = {}
    best: dict[State, tuple[str, int]] = {}
    for state in ALL:
        options = [(worth(bench, state, each, after), each) for each in actions(state)]
        after[state], best[state] = max(options, key=lambda pair: pair[0])
    return best


def net(bench: Bench, policy: dict[State, tuple[str, int]]) -> float:
    """What a policy brings a job in the workshop as it is, exactly."""
    after: dict[State, float] = {}
    for state in ALL:
        after[state] = worth(bench, state, policy[state], after)
    return after[ALL[-1]] / bench.shares.sum()


def play(
    bench: Bench, policy: dict[State, tuple[str, int]], rng: np.random.Generator
) -> tuple[State, int | None]:
    """A machine worked on: where it ended, and the fault that was mended (None: never known)."""
    fault = int(rng.choice(len(bench.shares), p=bench.shares / bench.shares.sum()))
    state = ALL[-1]
    while True:
        kind, f = policy[state]
        looks, failed = state
        if kind == "stop":
            return state, None
        if kind == "look":
            bad = rng.random() < (bench.shows[f] if f == fault else bench.alarm)
            state = ((*looks[:f], 2 if bad else 1, *looks[f + 1 :]), failed)
        elif f == fault and rng.random() < bench.cures:
            return state, fault
        else:
            state = (looks, (*failed[:f], 1, *failed[f + 1 :]))


def learned(written: Bench, jobs: list[tuple[State, int | None]]) -> Bench:
    """What a workshop believes after its jobs: shares and how checks show what is there."""
    faults, shares = len(written.shares), written.shares / written.shares.sum()
    like = np.array([
        np.eye(faults)[mended] if mended is not None else weights(written, state) / shares
        for state, mended in jobs
    ])  # fmt: skip
    with np.errstate(divide="ignore"):
        log = np.log(like * shares).ravel()
    odds = lambda p: p / p.sum()  # noqa: E731  # one fault a machine: the others are not independent
    cases = Cases(
        np.tile(np.eye(faults), (len(jobs), 1)), log, np.repeat(np.arange(len(jobs)), faults),
        np.ones(len(jobs)), np.tile(shares, (len(jobs), 1)),
    )  # fmt: skip
    rates = learn_rates(cases, shares, np.full(faults, STRENGTH), odds, odds)
    belief = rates.belief.reshape(len(jobs), faults)
    shows = written.shows.copy()
    for f in range(faults):
        row, leak = np.array([1 - written.shows[f], written.shows[f]]), np.array([1.0, 0.0])
        counts = np.zeros(2)
        for (state, _), chances in zip(jobs, belief, strict=True):
            if state[0][f]:
                counts += chances[f] * given_by(row, leak, np.eye(2)[state[0][f] - 1])
        shows[f] = learned_row(row, ROW_STRENGTH, counts)[1]
    return replace(written, shares=rates.mean / rates.mean.sum(), shows=shows)


def gains(workshops: int, jobs: int, times: float, rng: np.random.Generator) -> Floats:
    """(W, 3) net a job by the written figures, by those learned of so many jobs, by the truth."""
    written = Bench(np.array([0.4, 0.3, 0.2, 0.1]), np.array([0.85, 0.8, 0.85, 0.9]))
    usual, rows = plan(written), []
    for _ in range(workshops):
        shares = written.shares * times ** rng.uniform(-1, 1, 4)
        misses = (1 - written.shows) * times ** rng.uniform(-1, 1, 4)
        true = replace(written, shares=shares / shares.sum(), shows=1 - np.minimum(misses, 0.9))
        done = [play(true, usual, rng) for _ in range(jobs)]
        policies = (usual, plan(learned(written, done)), plan(true))
        rows.append([net(true, each) for each in policies])
    return np.array(rows)


def main() -> None:
    """Print both studies."""
    options = argparse.ArgumentParser(description="Do learned ranges hold, and what do they bring?")
    options.add_argument("--workshops", type=int, default=300)
    options.add_argument("--seed", type=int, default=1)
    given = options.parse_args()
    rng = np.random.default_rng(given.seed)
    for jobs in (30, 100, 300):
        share, asked = coverage(given.workshops, jobs, rng)
        error = (share * (1 - share) / asked) ** 0.5
        print(f"{jobs} jobs: 80 % ranges held {share:.1%} ± {error:.1%} of {asked}", flush=True)
    for times in (1.0, 2.0, 3.0):
        rows = gains(given.workshops // 3, 100, times, rng)
        gain, most = rows[:, 1] - rows[:, 0], rows[:, 2] - rows[:, 0]
        error = gain.std(ddof=1) / len(gain) ** 0.5
        part = f"{gain.mean() / most.mean():.0%}" if most.mean() > 1e-6 else "nothing to win"
        print(
            f"truth off by up to {times:g} times, 100 jobs: net {rows[:, 0].mean():.2f} by the"
            f" catalog, {gain.mean():+.2f} ± {error:.2f} learned"
            f" ({gain.mean() / rows[:, 0].mean():+.2%}),"
            f" {most.mean():+.2f} knowing the truth; {part} of that",
            flush=True,
        )


if __name__ == "__main__":
    main()

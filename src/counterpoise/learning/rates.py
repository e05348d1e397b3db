"""How often each fault is there, from jobs of which it is not always known: EM, and its errors.

A job is the sets of faults that its machine may have had, each with its weight by the written
figures: prior times the chance of all that was put down. What is not known enters by its belief,
so that a machine that nobody looked into moves nothing: it is expected to be like the others.
Arrays are over J jobs, N sets of all jobs one after the other, and F faults.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.learning.shares import Share

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Odds = Callable[[Floats], Floats]

MOST_ROUNDS = 100
# A round that moves no share by more than this part of itself was the last one.
SETTLED = 5e-4
# A share of 0 or 1 could never be moved by any job.
_LEAST = 1e-5
_MOST = 0.95


@dataclass(frozen=True)
class Cases:
    """Jobs as weights over sets of faults.

    ``present`` (N, F): which faults a set has, or, of several sets taken together, the share of
    them that has each; ``log_weight`` (N,) of each set by the written
    figures; ``job`` (N,) whose set it is, rising from 0; ``share`` (J,) how much a job counts, 1
    where nothing is faded; ``written`` (J, F) the chance of each fault on such a machine before
    anything was put down, by the written figures.
    """

    present: Floats
    log_weight: Floats
    job: Ints
    share: Floats
    written: Floats


@dataclass(frozen=True)
class Rates:
    """Learned shares (F,): ``mean``, worth ``weight`` jobs each, prior included.

    ``counted`` (F,) are the faults believed to have been there, ``expected`` (F,) those that the
    written figures expected; ``belief`` (N,) is that in each set of each job. ``moves`` is the
    largest relative move of each round: EM has settled where the last is below :data:`SETTLED`.
    """

    mean: Floats
    weight: Floats
    counted: Floats
    expected: Floats
    belief: Floats
    moves: tuple[float, ...]

    def share(self, fault: int) -> Share:
        """The posterior of one fault's share."""
        return Share.believed(float(self.mean[fault]), float(self.weight[fault]))

    @property
    def settled(self) -> bool:
        """Whether the last round moved next to nothing."""
        return not self.moves or self.moves[-1] <= SETTLED


def odds(shares: Floats) -> Floats:
    """(F,) odds of shares (F,)."""
    return np.asarray(shares / (1.0 - shares))


def itself(shares: Floats) -> Floats:
    """(F,) shares of independent faults: each comes as often as it is said to."""
    return shares


def learn_rates(
    cases: Cases,
    written: Floats,
    strength: Floats,
    odds_of: Odds = odds,
    comes: Odds = itself,
    believed: Floats | None = None,
) -> Rates:
    """Shares of the machines brought in that have each fault, from ``written`` (F,) on.

    ``strength`` (F,) is how many jobs a written share is worth. ``odds_of`` turns shares (F,) into
    the odds that the sets were weighed with, ``comes`` into how often each fault is there (F,) on a
    machine of which nothing is known, as the sets have it. ``believed`` (F,) are the shares that
    ``strength`` speaks of, where others than the ``written`` ones, by which the sets were weighed.

    A fault that needs a kind of machine, or comes with age, is learned from those that could have
    it: ``cases.written`` says how far.
    """
    expected = cases.share @ cases.written
    usual = comes(written)
    believed = written if believed is None else believed
    start, shares = np.log(odds_of(written)), believed.copy()
    # kept, so that whoever looks can see it settle
    moves: list[float] = []
    belief = np.zeros(len(cases.job))
    for _ in range(MOST_ROUNDS):
        factor = np.log(odds_of(shares)) - start
        belief = _beliefs(cases, cases.log_weight + cases.present @ factor)
        counted = (belief * cases.share[cases.job]) @ cases.present
        # how many machines the jobs are worth, had each fault come as often as it is said to now
        machines = expected * comes(shares) / (usual * shares)
        after = np.clip(
            (strength * believed + counted) / (strength + machines),
            np.minimum(_LEAST, written),
            _MOST,
        )
        moves.append(float(np.max(np.abs(after / shares - 1.0), initial=0.0)))
        shares = after
        if moves[-1] <= SETTLED:
            break
    weight = _weights(cases, belief, shares, strength + machines)
    return Rates(shares, weight, counted, expected, belief, tuple(moves))


def _beliefs(cases: Cases, log_weight: Floats) -> Floats:
    """(N,) belief in each set, summing to 1 over those of a job."""
    jobs = len(cases.share)
    top = np.full(jobs, -np.inf)
    np.maximum.at(top, cases.job, log_weight)
    raw = np.exp(log_weight - top[cases.job])
    return np.asarray(raw / np.bincount(cases.job, raw, jobs)[cases.job])


def _weights(cases: Cases, belief: Floats, shares: Floats, complete: Floats) -> Floats:
    """(F,) how many jobs each share is worth, taking off what is not known (Louis 1982).

    ``complete`` (F,) is what they would be worth were all causes known. The information lost is
    the covariance of the faults given what was put down, on the scale of the log odds.
    """
    spread = shares * (1.0 - shares)
    present = cases.present
    weighed = present * (belief * cases.share[cases.job])[:, None]
    # chance of each fault by job, then of each pair over all jobs
    by_job = np.zeros((len(cases.share), present.shape[1]))
    np.add.at(by_job, cases.job, present * belief[:, None])
    missing = weighed.T @ present - (by_job * cases.share[:, None]).T @ by_job
    known = np.diag(complete * spread) - missing
    # what is hardly told apart may leave less than the written figures alone are worth
    # by its axes, so that a direction that nothing is known of does not spoil the others
    values, vectors = np.linalg.eigh(known)
    least = 1e-3 * np.max(complete * spread, initial=1e-12)
    variance = ((vectors**2) / np.maximum(values, least)).sum(axis=1)
    return np.asarray(np.minimum(1.0 / (variance * spread), complete))


__all__ = ["SETTLED", "Cases", "Rates", "learn_rates", "odds"]

"""Which findings hardly go together, how surprising that is, and which check to do again.

A finding is held against what all others lead one to expect (leave one out): the chance of an
outcome as likely as it or less. What speaks most against it is the finding without which it would
surprise least. Arrays: S sets of faults, O outcomes.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.belief import to_log
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence

# A finding as unlikely as this beside the others, or more so, is said to go badly with them. How
# many sound jobs are warned then is measured in docs/reasoning.md (5 in 100).
LEVEL = 0.03
# The other finding counts as the opponent where without it the first would be this much likelier.
_TURNS = 1.2
# After as many readings of one check another one is no longer worth its minutes (from memory).
MOST_READINGS = 3
# Log odds below the likeliest set at which a set no longer matters: 1 in a million.
_NEGLIGIBLE = 14.0


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A finding that goes badly with the others; ``chance`` of one as strange as it.

    ``outcome`` is what it says, by id. ``against`` is the check that speaks most against it, with
    ``against_outcome``; empty where no single one does. ``moves``: by how much the chance of some
    fault changes if the finding, or the one against it, is left out.
    """

    check: str
    outcome: str
    chance: float
    against: str = ""
    against_outcome: str = ""
    moves: float = 0.0

    @property
    def checks(self) -> tuple[str, ...]:
        """The checks of which one is probably wrong."""
        return tuple(name for name in (self.check, self.against) if name)


def contradictions(probabilities: Floats, evidence: StandingEvidence) -> tuple[Contradiction, ...]:
    """What goes badly together, the strangest first, no check in two; empty where nothing does.

    ``probabilities`` (S,) is the belief with the evidence.
    """
    names = list(evidence.readings)
    # one finding alone contradicts nobody
    if sum(len(kept) for kept in evidence.readings.values()) < 2:
        return ()
    weighing = _Weighing(to_log(probabilities), evidence)
    strange = sorted((chance, name) for name in names if (chance := weighing.chance(name)) <= LEVEL)
    result: list[Contradiction] = []
    for chance, name in strange:
        against = weighing.opponent(name, chance)
        # the pair is said once: what is strange beside a finding makes that one strange too
        if not {name, against} & {each for one in result for each in one.checks}:
            result.append(weighing.as_said(name, against, chance))
    return tuple(result)


class _Weighing:
    """Beliefs without a finding or two, made from the (S,) log belief with all of them."""

    def __init__(self, belief: Floats, evidence: StandingEvidence) -> None:
        self._belief, self._evidence = belief, evidence
        # by thing: its part of the belief, asked for with every check that looks at it
        self._parts: dict[str, Floats] = {}

    def chance(self, check: str, without: str = "") -> float:
        """The chance of a last reading as strange as that of ``check``, beside all others.

        With ``without`` that check's readings are left out too: all but the last one where it is
        the check itself.
        """
        *kept, last = self._evidence.readings[check]
        readings = {name: all_ for name, all_ in self._evidence.readings.items() if name != check}
        if kept and without != check:
            readings[check] = tuple(kept)
        readings.pop(without, None)
        expected = self._expected(replace(self._evidence, readings=readings), check, without)
        # a reading between two outcomes is each of them in part
        tails = np.array([expected[expected <= p * (1.0 + 1e-9)].sum() for p in expected])
        return float(last / last.sum() @ tails)

    def opponent(self, check: str, chance: float) -> str:
        """The check without which this one would surprise least; empty where none matters."""
        likelier = {
            name: self.chance(check, name)
            for name, readings in self._evidence.readings.items()
            # a check that was done twice may disagree with itself
            if name != check or len(readings) > 1
        }
        best = max(likelier, key=lambda name: likelier[name], default="")
        return best if best and likelier[best] >= _TURNS * chance else ""

    def as_said(self, check: str, against: str, chance: float) -> Contradiction:
        """The contradiction as it is said."""
        moves = max(self._moved(name) for name in {check, against} - {""})
        said = self._outcome(check, -1)
        # of a check done twice, the reading before is what speaks against the last
        other = self._outcome(against, -2 if against == check else -1) if against else ""
        return Contradiction(check, said, chance, against, other, moves)

    def _outcome(self, check: str, number: int) -> str:
        """The outcome that a reading speaks for most."""
        outcomes = list(self._evidence.model.family.checks[check].outcomes)
        return outcomes[int(np.argmax(self._evidence.readings[check][number]))]

    def _expected(self, evidence: StandingEvidence, check: str, without: str) -> Floats:
        """(O,) chances of the outcomes of a check beside ``evidence``."""
        log = self._beside(evidence, {check, without} - {""})
        rows = np.flatnonzero(log > log.max() - _NEGLIGIBLE)
        (table,) = evidence.next_tables([check], rows=rows)
        chances = table @ np.exp(log[rows] - log.max())
        return np.asarray(chances / chances.sum())

    def _beside(self, evidence: StandingEvidence, changed: Iterable[str]) -> Floats:
        """(S,) log belief, not normalised, with other readings of the checks ``changed``."""
        log = self._belief
        for thing in sorted({self._evidence.thing_key(name) for name in changed}):
            if thing not in self._parts:
                self._parts[thing] = self._evidence.log_likelihood_of(thing)
            log = log - self._parts[thing] + evidence.log_likelihood_of(thing)
        return log

    def _moved(self, check: str) -> float:
        """By how much the chance of any fault changes at most without this check."""
        present = self._evidence.model.hypotheses.present
        left = self._beside(self._evidence.without((check,)), {check})
        now, then = (_marginals(each, present) for each in (self._belief, left))
        return float(np.abs(now - then).max())


def to_repeat(evidence: StandingEvidence, against: Iterable[Contradiction]) -> frozenset[str]:
    """The checks among contradictory findings that are worth doing again."""
    checks = evidence.model.family.checks
    return frozenset(
        name
        for each in against
        for name in each.checks
        # who is asked again says the same again
        if checks[name].kind != "ask" and len(evidence.readings[name]) < MOST_READINGS
    )


def _marginals(log: Floats, present: NDArray[np.bool_]) -> Floats:
    """(F,) chance of each fault key from an (S,) log belief, not normalised."""
    weight = np.exp(log - log.max())
    return np.asarray(weight @ present / weight.sum())

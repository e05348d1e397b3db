"""The chest clinic of Lauritzen and Spiegelhalter, J. R. Stat. Soc. B 50, 1988: tables as printed.

Its causes hang together, so every joint state of smoking, tuberculosis, cancer and bronchitis is
one of exactly one "faults", and the tables of X-ray and short breath are taken as they stand.
Posteriors derived by two libraries (1e-6) and by pyAgrum on the network itself (1e-12).
"""

from itertools import product

import numpy as np
import pytest
from tests.reasoning.judges.belief_network import gum

from counterpoise.reasoning.belief import observe, to_log
from counterpoise.reasoning.hypotheses import enumerate_hypotheses, prior_of
from counterpoise.reasoning.likelihood import outcome_table
from counterpoise.reasoning.model import Check, Fault, Model

TUBERCULOSIS = {True: 0.05, False: 0.01}  # by a visit to Asia
CANCER, BRONCHITIS = {True: 0.10, False: 0.01}, {True: 0.60, False: 0.30}  # by smoking
X_RAY = {True: 0.98, False: 0.05}  # by either tuberculosis or cancer
SHORT_BREATH = {
    (True, True): 0.9,
    (True, False): 0.7,
    (False, True): 0.8,
    (False, False): 0.1,
}  # by either, bronchitis
STATES = list(product((False, True), repeat=4))


def chance(p, holds):
    return p if holds else 1 - p


def clinic(visit):
    priors, names = [], ["".join("ny"[flag] for flag in state) for state in STATES]
    for smokes, t, c, b in STATES:
        prior = (
            0.5
            * chance(TUBERCULOSIS[visit], t)
            * chance(CANCER[smokes], c)
            * chance(BRONCHITIS[smokes], b)
        )
        priors.append(prior)
    xray = {name: {"yes": X_RAY[t or c]} for name, (_, t, c, _) in zip(names, STATES, strict=True)}
    breath = {
        name: {"yes": SHORT_BREATH[t or c, b]}
        for name, (_, t, c, b) in zip(names, STATES, strict=True)
    }
    checks = (
        Check("xray", 0, ("no", "yes"), xray, exclusive=True),
        Check("short_breath", 0, ("no", "yes"), breath, exclusive=True),
    )
    return Model(tuple(map(Fault, names, priors)), checks=checks)


def posterior(visit, seen):
    """Chances of tuberculosis, cancer, bronchitis, and either of the first two."""
    model = clinic(visit)
    hypotheses = enumerate_hypotheses(model)
    belief = to_log(prior_of(model, hypotheses))
    for check in model.checks:
        if check.id in seen:
            belief = observe(
                belief, outcome_table(check, hypotheses), np.eye(2)[int(seen[check.id])]
            )
    weights = np.exp(belief)[1:]
    return [sum(w for w, s in zip(weights, STATES, strict=True) if f(s)) for f in SIGNS]


SIGNS = [lambda s: s[1], lambda s: s[2], lambda s: s[3], lambda s: s[1] or s[2]]


def network():
    net = gum.fastBN("a->t->e->x;s->l->e->d<-b<-s")
    net.cpt("a").fillWith([0.99, 0.01])
    net.cpt("s").fillWith([0.5, 0.5])
    for parent, node, table in (
        ("a", "t", TUBERCULOSIS),
        ("s", "l", CANCER),
        ("s", "b", BRONCHITIS),
        ("e", "x", X_RAY),
    ):
        for given in (False, True):
            net.cpt(node)[{parent: int(given)}] = [1 - table[given], table[given]]
    for t, c in product((0, 1), repeat=2):
        net.cpt("e")[{"t": t, "l": c}] = [1 - (t | c), t | c]
    for (either, b), p in SHORT_BREATH.items():
        net.cpt("d")[{"e": int(either), "b": int(b)}] = [1 - p, p]
    return net


def test_a_visit_and_short_breath():
    # W10: given a and d
    found = posterior(visit=True, seen={"short_breath": True})
    assert found == pytest.approx([0.087751, 0.099525, 0.811402, 0.182300], abs=1e-6)


@pytest.mark.parametrize("visit", [True, False])
@pytest.mark.parametrize(
    "seen", [{}, {"xray": True}, {"short_breath": False}, {"xray": False, "short_breath": True}]
)
def test_the_network_itself_says_the_same(visit, seen):
    node = {"xray": "x", "short_breath": "d"}
    judge = gum.LazyPropagation(network())
    judge.setEvidence({"a": int(visit), **{node[name]: int(value) for name, value in seen.items()}})
    judge.makeInference()
    assert posterior(visit, seen) == pytest.approx(
        [judge.posterior(n)[1] for n in "tlbe"], abs=1e-12
    )

"""Belief against exact inference by pyAgrum on the same network, cause by cause; within 1e-9."""

import numpy as np
import pytest
from tests.reasoning.judges.belief_network import gum
from tests.reasoning.judges.brute_force import row
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.belief import marginals, observe, to_log
from counterpoise.reasoning.hypotheses import enumerate_hypotheses, prior_of
from counterpoise.reasoning.likelihood import outcome_table
from counterpoise.reasoning.model import Check, Fault, Model

NAMES = [f"f{i}" for i in range(5)]


def add(net, name, labels):
    net.add(gum.LabelizedVariable(name, name, labels))


def noisy_max_network(model):
    """A node for each fault, one for what each cause gives, and one for the worst of them."""
    net = gum.BayesNet()
    for fault in model.faults:
        add(net, fault.id, 2)
        net.cpt(fault.id).fillWith([1 - fault.prior, fault.prior])
    for check in model.checks:
        size, causes = len(check.outcomes), [*check.under, "leak"]
        for cause in causes:
            node = f"{check.id}_{cause}"
            add(net, node, size)
            if cause == "leak":
                net.cpt(node).fillWith(row(check, check.otherwise))
            else:
                net.addArc(cause, node)
                net.cpt(node)[{cause: 0}] = [1.0] + [0.0] * (size - 1)
                net.cpt(node)[{cause: 1}] = row(check, check.under[cause])
        worst(net, check, causes, size)
    return net


def worst(net, check, causes, size):
    add(net, check.id, size)
    for cause in causes:
        net.addArc(f"{check.id}_{cause}", check.id)
    for each in np.ndindex(*[size] * len(causes)):
        given = {
            f"{check.id}_{cause}": outcome for cause, outcome in zip(causes, each, strict=True)
        }
        net.cpt(check.id)[given] = [float(o == max(each)) for o in range(size)]


def untangled(seed, outcomes):
    """A random model whose sets of faults are all there are: the prior is the network's."""
    rng = np.random.default_rng(seed)
    model = draw(rng, Size(5, 4, 0, 0, outcomes=outcomes))
    faults = tuple(Fault(fault.id, float(rng.uniform(0.05, 0.5))) for fault in model.faults)
    checks = tuple(
        Check(check.id, 0.0, check.outcomes, dict(list(check.under.items())[:4]), check.otherwise)
        for check in model.checks
    )
    return Model(faults, "independent", max_faults=5, nothing_wrong=True, checks=checks), rng


@pytest.mark.parametrize("outcomes", [2, 3])
@pytest.mark.parametrize("seed", range(6))
def test_a_noisy_max_network_says_the_same(seed, outcomes):
    model, rng = untangled(seed, outcomes)
    hypotheses = enumerate_hypotheses(model)
    belief = to_log(prior_of(model, hypotheses))
    judge = gum.LazyPropagation(noisy_max_network(model))
    for check in model.checks:
        seen = int(rng.integers(outcomes))
        belief = observe(belief, outcome_table(check, hypotheses), np.eye(outcomes)[seen])
        judge.addEvidence(check.id, seen)
        judge.makeInference()
        expected = [judge.posterior(name)[1] for name in NAMES]
        assert marginals(np.exp(belief), hypotheses) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("convention", ["Compound", "Net"])
@pytest.mark.parametrize("seed", range(6))
def test_pyagrums_own_noisy_or_says_the_same(seed, convention):
    model, rng = untangled(seed, 2)
    net = gum.BayesNet()
    for fault in model.faults:
        add(net, fault.id, 2)
        net.cpt(fault.id).fillWith([1 - fault.prior, fault.prior])
    for check in model.checks:
        leak = check.otherwise["o1"]
        getattr(net, f"addNoisyOR{convention}")(gum.LabelizedVariable(check.id, check.id, 2), leak)
        for name, given in check.under.items():
            alone = given["o1"]
            # Henrion's weight of a cause, which the compound takes, has the leak in it; Díez's, as
            # ours, has not
            net.addWeightedArc(
                name, check.id, alone if convention == "Net" else 1 - (1 - alone) * (1 - leak)
            )
    hypotheses, judge = enumerate_hypotheses(model), gum.LazyPropagation(net)
    belief = to_log(prior_of(model, hypotheses))
    for check in model.checks:
        seen = int(rng.integers(2))
        belief = observe(belief, outcome_table(check, hypotheses), np.eye(2)[seen])
        judge.addEvidence(check.id, seen)
    judge.makeInference()
    expected = [judge.posterior(name)[1] for name in NAMES]
    # its noisy-OR nodes hold their weights in single precision
    assert marginals(np.exp(belief), hypotheses) == pytest.approx(expected, abs=1e-6)

"""The belief over kinds of machines: against plain enumeration, and against pyAgrum."""

import numpy as np
import pytest
from benchmarks.posterior import difference, random_job
from tests.reasoning.judges.belief_network import gum
from tests.workshop.diagnosis.kinds.enumeration import enumerated, slipped_into
from tests.workshop.diagnosis.kinds.small_machines import FAMILY

from counterpoise.catalog.loader import families, load_family
from counterpoise.catalog.priors import independent_priors
from counterpoise.errors import InputError
from counterpoise.workshop.diagnosis.family_model import MISREADING
from counterpoise.workshop.diagnosis.kinds.kinds import MISTAKEN
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import (
    NOT_THERE,
    Entry,
    Finding,
    Intake,
    Job,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.entry_checks import check_body
from counterpoise.workshop.jobs.settings import Settings

AT = "2026-03-01T09:00:00Z"


def job(*bodies, features=None, complaints=("shakes",)):
    intake = Intake(FAMILY.id, "customer", "x", complaints, 6.0, features or {})
    return Job(1, tuple(Entry(i, AT, "", body) for i, body in enumerate((intake, *bodies), 1)))


def now(*bodies, **more):
    return replay(FAMILY, Settings(), job(*bodies, **more))


def drawn(rng, count):
    """Findings at random, each check once, some of them that there is no such thing."""
    bodies = []
    for name in rng.permutation(list(FAMILY.checks))[:count]:
        check = FAMILY.checks[name]
        outcomes = [*check.outcomes, *([NOT_THERE] if check.needs else [])]
        bodies.append(Finding(str(name), str(rng.choice(outcomes))))
    return bodies


def same(situation, expected):
    model, kinds = situation.model.hypotheses, situation.kinds
    keys = [tuple(machine.items()) for machine in kinds.machines]
    sets = [frozenset(model.fault_ids[i] for i in faults) for faults in model.sets]
    here = {
        (key, faults): chance
        for key, row in zip(keys, situation.joint, strict=True)
        for faults, chance in zip(sets, row.tolist(), strict=True)
    }
    assert sum(here.values()) == pytest.approx(1.0)
    assert all(chance < 1e-15 for key, chance in here.items() if key not in expected)
    for key, chance in expected.items():
        assert here[key] == pytest.approx(chance, abs=1e-12)


@pytest.mark.parametrize("features", [{}, {"drive": "belt"}, {"tub": "bolted", "drive": "direct"}])
@pytest.mark.parametrize("seed", range(8))
def test_findings_and_repairs_say_what_plain_enumeration_says(seed, features):
    rng = np.random.default_rng([seed, len(features)])
    bodies = drawn(rng, 4)
    # in the middle, so that findings stand before and after it
    if seed % 2:
        repair = rng.choice([r.id for r in FAMILY.repairs.values() if not r.needs or not features])
        bodies[2:2] = [RepairDone(str(repair))]
    at = job(*bodies, features=features)
    same(replay(FAMILY, Settings(), at), enumerated(FAMILY, 6.0, at))


def network():
    """Features as roots, faults below them, findings below those.

    What comes in has a fault: that is evidence, and the shares are those among what comes in, so
    that a kind of machine that seldom fails must be the commoner at home.
    """
    net, something = gum.BayesNet(), {}
    kinds = [(d, t) for d in FAMILY.features["drive"].values for t in FAMILY.features["tub"].values]
    net.add(gum.LabelizedVariable("kind", "kind", len(kinds)))
    names = list(FAMILY.faults)
    chance = {}
    for at, (drive, tub) in enumerate(kinds):
        priors = independent_priors(FAMILY, age_years=6.0, features={"drive": drive, "tub": tub})
        chance[at] = [priors.get(name, 0.0) for name in names]
        something[at] = 1.0 - float(np.prod([1.0 - p for p in chance[at]]))
    share = [
        FAMILY.features["drive"].share[d] * FAMILY.features["tub"].share[t] / something[at]
        for at, (d, t) in enumerate(kinds)
    ]
    net.cpt("kind").fillWith([each / sum(share) for each in share])
    for column, name in enumerate(names):
        net.add(gum.LabelizedVariable(name, name, 2))
        net.addArc("kind", name)
        for at in range(len(kinds)):
            p = chance[at][column]
            net.cpt(name)[{"kind": at}] = [1.0 - p, p]
    net.add(gum.LabelizedVariable("any", "any", 2))
    for name in names:
        net.addArc(name, "any")
    for each in np.ndindex(*[2] * len(names)):
        net.cpt("any")[dict(zip(names, each, strict=True))] = [
            float(not any(each)),
            float(any(each)),
        ]
    for check in FAMILY.checks.values():
        add_check(net, check, kinds)
    return net, kinds


def add_check(net, check, kinds):
    outcomes = list(check.outcomes)
    causes = list(check.under)
    net.add(gum.LabelizedVariable(check.id, check.id, len(outcomes) + bool(check.needs)))
    for parent in ["kind", *causes]:
        net.addArc(parent, check.id)
    for at, (drive, tub) in enumerate(kinds):
        machine = {"drive": drive, "tub": tub}
        for each in np.ndindex(*[2] * len(causes)):
            present = [name for name, there in zip(causes, each, strict=True) if there]
            given = {"kind": at, **dict(zip(causes, each, strict=True))}
            net.cpt(check.id)[given] = row_of(check, machine, present, outcomes)


def row_of(check, machine, present, outcomes):
    if check.tells:
        wrong = check.error / (len(outcomes) - 1)
        return [1.0 - check.error if machine[check.tells] == o else wrong for o in outcomes]
    worse = np.ones(len(outcomes))
    for cause in [*(check.under[name] for name in present), check.otherwise]:
        row = np.array([cause.get(o, 0.0) for o in outcomes])
        row[0] = 1.0 - row[1:].sum()
        worse *= np.cumsum(row)
    put_down = np.array(slipped_into(FAMILY, check))
    read = (1.0 - MISREADING) * np.diff(worse, prepend=0.0) + MISREADING * put_down
    if not check.needs:
        return read.tolist()
    if all(machine[name] == value for name, value in check.needs.items()):
        return [*((1.0 - MISTAKEN) * read).tolist(), MISTAKEN]
    return [MISTAKEN / len(outcomes)] * len(outcomes) + [1.0 - MISTAKEN]


@pytest.mark.parametrize("seed", range(8))
def test_a_network_of_kinds_faults_and_findings_says_the_same(seed):
    net, kinds = network()
    judge = gum.LazyPropagation(net)
    judge.addEvidence("any", 1)
    bodies = drawn(np.random.default_rng([7, seed]), 4)
    for body in bodies:
        outcomes = [*FAMILY.checks[body.check].outcomes, NOT_THERE]
        judge.addEvidence(body.check, outcomes.index(body.outcome))
    judge.makeInference()
    situation = now(*bodies, complaints=())
    by_kind = {
        (machine["drive"], machine["tub"]): chance
        for machine, chance in zip(
            situation.kinds.machines, situation.kind_chances.tolist(), strict=True
        )
    }
    assert [by_kind[kind] for kind in kinds] == pytest.approx(
        [judge.posterior("kind")[at] for at in range(len(kinds))], abs=1e-9
    )
    # the network admits four faults at once, a family three: so rare that it hardly shows
    chances = situation.model.key_chances(situation.probabilities)
    for name in FAMILY.faults:
        assert chances[name] == pytest.approx(judge.posterior(name)[1], abs=1e-9)


def test_what_is_not_known_has_the_chances_of_the_catalog():
    assert now(complaints=()).feature_chances == {
        name: pytest.approx(dict(feature.share)) for name, feature in FAMILY.features.items()
    }
    assert now().known == {}


def test_a_look_makes_it_known_and_taking_it_back_unknown_again():
    look = Finding("look_tub", "welded")
    looked = now(look)
    assert looked.known == {"tub": "welded"}
    assert looked.feature_chances["tub"]["welded"] > 0.9
    back = now(look, Retraction(2, "wrong machine"))
    assert back.feature_chances == now().feature_chances


def test_that_there_is_no_belt_tells_the_drive():
    situation = now(Finding("see_belt", NOT_THERE))
    assert situation.known == {"drive": "direct"}
    # it says nothing of the catalog's figures for belts
    assert not situation.evidence.readings


def test_who_describes_the_belt_has_one_before_him():
    assert now(Finding("see_belt", "fine")).known == {"drive": "belt"}


def test_who_has_renewed_the_bearing_had_a_bolted_tub():
    assert now(RepairDone("new_bearing")).known["tub"] == "bolted"
    assert now(RepairDone("new_tub")).known == {}


def test_a_look_stays_done_after_a_repair_that_changes_nothing_of_the_machine():
    look, repair = Finding("look_drive", "belt"), RepairDone("new_tub")
    assert "look_drive" in now(look, repair).done
    assert "turn" not in now(Finding("turn", "odd"), repair).done


def test_a_look_against_the_intake_is_said_and_both_count():
    look = Finding("look_tub", "welded")
    situation = now(look, features={"tub": "bolted"})
    chances = situation.feature_chances["tub"]
    assert set(chances) == {"bolted", "welded", "steel"}
    # .5 and .3 of machines, each named once wrongly in thirty-three
    assert chances["bolted"] / chances["welded"] == pytest.approx(0.5 / 0.3, rel=0.05)
    assert "tub" not in situation.known
    (warning,) = situation.warnings
    assert "At intake it was 'b'" in warning
    assert "Look at the tub" in warning
    assert "both count" in warning


def test_a_look_that_agrees_with_the_intake_changes_nothing():
    same_as = now(Finding("look_tub", "bolted"), features={"tub": "bolted"})
    assert same_as.probabilities == pytest.approx(now(features={"tub": "bolted"}).probabilities)
    assert same_as.warnings == ()


def test_once_the_intake_is_in_doubt_the_other_kind_may_be_looked_at():
    at = job(features={"drive": "direct"})
    with pytest.raises(InputError, match="down as 'd'"):
        check_body(FAMILY, at, Finding("see_belt", "fine"))
    doubted = job(Finding("look_drive", "belt"), features={"drive": "direct"})
    assert check_body(FAMILY, doubted, Finding("see_belt", "fine")).outcome == "fine"


def test_only_what_some_machines_lack_can_be_missing():
    assert check_body(FAMILY, job(), Finding("see_belt", NOT_THERE)).outcome == NOT_THERE
    with pytest.raises(InputError, match="there is no answer"):
        check_body(FAMILY, job(), Finding("turn", NOT_THERE))


def test_what_a_machine_is_has_no_weights():
    with pytest.raises(InputError, match="one thing or another"):
        check_body(FAMILY, job(), Finding("look_drive", "", weights=(0.5, 0.5)))


@pytest.mark.parametrize("number", [1])
def test_the_full_catalog_says_what_an_enumeration_of_its_own_says(number):
    """Fifty of these: ``python -m benchmarks.posterior``."""
    family = load_family(families()[number % len(families())])
    at = random_job(family, np.random.default_rng([1, number]))
    assert len(at.entries) > 2
    assert difference(family, at) < 1e-12

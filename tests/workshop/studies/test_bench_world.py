"""The world of a study against the belief: written apart, they must say the same chances.

What the world draws is counted, and held against what the belief says of it, by chi-square.
"""

from itertools import product

import numpy as np
import pytest
from scipy.stats import chisquare

from counterpoise.catalog.loader import load_family
from counterpoise.workshop.diagnosis.evidence.complaint import UNMENTIONED_WEIGHT
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence
from counterpoise.workshop.diagnosis.kinds.kinds import WRONG_AT_INTAKE
from counterpoise.workshop.jobs.entries import NOT_THERE
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.answers import Answers
from counterpoise.workshop.studies.bench_world import BenchWorld

DRAWS = 3000
# of a hundred thousand sets of draws one is refused though nothing is wrong; seeds are fixed
LEAST_P = 1e-5
BELT = {"drive": "belt", "motor": "brushed", "tub": "bolted"}
DIRECT = {"drive": "direct", "motor": "brushless", "tub": "welded"}


@pytest.fixture(scope="module")
def world():
    return BenchWorld.of(load_family("front_loader"), Settings(people=2))


def number_of(world, faults):
    ids = world.model.hypotheses.fault_ids
    return world.model.hypotheses.index[tuple(sorted(ids.index(key) for key in faults))]


def answering(world, features, faults, draw, led_astray=None):
    """What checks show on one machine; ``draw`` numbers its luck."""
    return Answers(
        world.family, features, faults,
        lambda purpose, number: np.random.default_rng([17, draw, purpose, number]),
        lambda rng: world.faults(world.draw_background(rng)),
        led_astray or {},
    )  # fmt: skip


def outcomes_of(world, check):
    entry = world.family.checks[check]
    return [*entry.outcomes, *([NOT_THERE] if entry.needs else [])]


def believed(world, features, faults, findings, heard=None):
    """The chance that the belief gives to findings, (check, outcome) each, on such a machine."""
    evidence = StandingEvidence(world.model, world.kinds, heard)
    for check, outcome in findings:
        entry = world.family.checks[check]
        if outcome == NOT_THERE or entry.tells:
            evidence = evidence.with_kind_told(check, outcome)
        else:
            evidence = evidence.with_reading(
                check, np.array([float(outcome == each) for each in entry.outcomes])
            )
    log, row = evidence.log_likelihood(), number_of(world, faults)
    kind = [dict(each) for each in world.kinds.machines].index(features)
    return float(np.exp(log[row] if log.ndim == 1 else log[kind, row]))


def agrees(counts, chances):
    """The chance of counts as far from what is expected, those hardly ever expected put together."""
    expected = np.array([chances[pair] for pair in chances]) * sum(counts.values())
    observed = np.array([counts.get(pair, 0) for pair in chances], dtype=float)
    assert expected.sum() == pytest.approx(sum(counts.values()), rel=1e-6)
    rare = expected < 8
    if rare.any():
        expected = np.append(expected[~rare], expected[rare].sum())
        observed = np.append(observed[~rare], observed[rare].sum())
    if expected[-1] < 1e-9:
        assert observed[-1] == 0
        expected, observed = expected[:-1], observed[:-1]
    return chisquare(observed, expected).pvalue


def counted(world, features, faults, checks, draws=DRAWS):
    counts = {}
    for draw in range(draws):
        answers = answering(world, features, faults, draw)
        pair = tuple(answers.next(check) for check in checks)
        counts[pair] = counts.get(pair, 0) + 1
    return counts


CASES = {
    "a check twice": (BELT, ("short_foot",), ("rock_corners", "rock_corners")),
    "a spin twice": (BELT, ("belt_worn",), ("spin_bath_mat", "spin_bath_mat")),
    "a loose contact twice": (BELT, ("wiring:at_times",), ("measure_harness", "measure_harness")),
    "two looks at one thing": (BELT, ("drain_blocked",), ("look_in_drum_water", "drain_and_listen")),
    "two faults, the worse shows": (BELT, ("damper_worn:gone", "short_foot"), ("push_tub_bounces", "rock_corners")),
    "two faults, an answer without order": (BELT, ("drain_blocked", "seal_leaking"), ("ask_since_when", "look_drain_trap")),
    "of a thing that it has": (BELT, ("belt_worn",), ("look_belt", "feel_drive")),
    "of a thing that it has not": (DIRECT, ("short_foot",), ("look_belt", "feel_drive")),
    "the kind of tub": (DIRECT, ("bearing_worn:early",), ("look_tub_joint", "turn_drum_by_hand")),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_what_the_world_shows_is_as_likely_as_the_belief_says(world, name):
    features, faults, checks = CASES[name]
    pairs = list(product(*(outcomes_of(world, check) for check in checks)))
    chances = {
        pair: believed(world, features, faults, zip(checks, pair, strict=True)) for pair in pairs
    }
    assert agrees(counted(world, features, faults, checks), chances) > LEAST_P


def test_a_repeat_that_were_news_each_time_is_refused(world):
    """The measure can fail: independent looks are not what the world shows."""
    features, faults, checks = CASES["a check twice"]
    alone = {o: believed(world, features, faults, [(checks[0], o)]) for o in outcomes_of(world, checks[0])}  # fmt: skip
    independent = {(a, b): alone[a] * alone[b] for a in alone for b in alone}
    assert agrees(counted(world, features, faults, checks), independent) < LEAST_P


def test_a_complaint_and_an_answer_are_led_astray_together(world):
    assert not world.family.complaints["shakes"].kin
    faults, check = ("damper_worn:gone",), "ask_since_when"
    row, account, counts = number_of(world, faults), world.model.account.id, {}
    for draw in range(DRAWS):
        told_of, complaints = world.account_of(row, np.random.default_rng([18, draw]))
        answers = answering(world, BELT, faults, draw, {account: world.faults(told_of)})
        pair = ("shakes" in complaints, answers.next(check))
        counts[pair] = counts.get(pair, 0) + 1
    # owners name half of what they notice, as the belief has it of what they leave out
    shakes = UNMENTIONED_WEIGHT * world.model.complaints["shakes"]
    chances = {
        (said, outcome): believed(
            world, BELT, faults, [(check, outcome)], shakes if said else 1.0 - shakes
        )
        for said in (True, False)
        for outcome in outcomes_of(world, check)
    }
    assert agrees(counts, chances) > LEAST_P
    # the share that is told of another machine
    strange = np.mean(
        [world.account_of(row, np.random.default_rng([18, d]))[0] != row for d in range(DRAWS)]
    )
    assert strange == pytest.approx(world.model.account.misled, abs=0.015)


def test_machines_come_by_the_shares_of_the_catalog_and_their_features_are_put_down_by_theirs(
    world,
):
    machines = [world.draw(np.random.default_rng([19, i]), 0.5) for i in range(1500)]
    direct = [world.features(m)["drive"] == "direct" for m in machines]
    # whether it comes in does not hang on the drive but by its faults, a little
    assert np.mean(direct) == pytest.approx(world.family.features["drive"].share["direct"], abs=0.05)  # fmt: skip
    put_down = [m for m in machines if "tub" in m.put_down]
    assert len(put_down) / len(machines) == pytest.approx(0.5, abs=0.05)
    wrong = np.mean([m.put_down["tub"] != world.features(m)["tub"] for m in put_down])
    assert wrong == pytest.approx(WRONG_AT_INTAKE, abs=0.02)
    assert all("motor" not in m.put_down for m in machines if world.features(m)["drive"] == "direct")  # fmt: skip
    assert all(not m.put_down for m in (world.draw(np.random.default_rng(i), 0.0) for i in range(5)))  # fmt: skip

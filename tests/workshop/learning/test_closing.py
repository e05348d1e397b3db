"""What a closing is asked, on played machines: the word that suggests itself is mostly right."""

import numpy as np
from tests.workshop.learning.jobs_of import DAMPERS, FAMILY, LOOKS, MENDS, SETTINGS, job_of

from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import prior_belief
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import Body, Finding, Job, Proof, RepairDone
from counterpoise.workshop.learning.closing import asked_causes, parts_put_in


def played(rng: np.random.Generator) -> tuple[Job, set[str]]:
    """A machine looked over, then mended by the likeliest cause until it runs true, or given up."""
    model = family_model(FAMILY)
    prior = np.exp(prior_belief(model, 6.0, {}))
    here = int(rng.choice(len(prior), p=prior / prior.sum()))
    truth = {model.hypotheses.fault_ids[i] for i in model.hypotheses.sets[here]}
    bodies: list[Body] = []
    for check in LOOKS.values():
        bad = rng.random() < model.tables[check][1, here]
        bodies.append(Finding(check, "bad" if bad else "good"))
    left = set(truth)
    for _ in range(3):
        job = job_of(1, *bodies)
        chances = replay(FAMILY, SETTINGS, job).key_chances
        cause = max(chances, key=lambda key: chances[key])
        # fault by fault, each with its chance to be cured
        if cause in left and rng.random() < FAMILY.repairs[MENDS[cause]].cures[cause]:
            left -= {cause}
        passed = rng.random() < (model.proof.misses if left else 1 - model.proof.false_alarms)
        bodies += [RepairDone(MENDS[cause]), Proof(passed=bool(passed))]
        if passed:
            break
    return job_of(1, *bodies), truth


def test_on_eight_played_machines_of_ten_nothing_has_to_be_put_right() -> None:
    rng = np.random.default_rng(17)
    right = 0
    for _ in range(150):
        job, truth = played(rng)
        asked = asked_causes(FAMILY, SETTINGS, job)
        right += {cause.id for cause in asked if cause.word} == truth
    assert right >= 0.8 * 150


def test_nobody_is_made_to_say_that_they_saw_what_only_figures_say() -> None:
    words = {c.id: c.word for c in asked_causes(FAMILY, SETTINGS, job_of(1))}
    assert "faults" not in words.values()
    looked = job_of(1, Finding("push", "bad"), Finding("turn", "good"), Finding("rock", "good"))
    assert {c.id: c.word for c in asked_causes(FAMILY, SETTINGS, looked)}[DAMPERS] == "faults"


def test_the_parts_of_what_was_mended() -> None:
    job = job_of(1, RepairDone("set_of_dampers"), Proof(passed=False), RepairDone("new_bearing"))
    assert parts_put_in(FAMILY, job) == ("Dampers", "Bearing")
    assert parts_put_in(FAMILY, job_of(1)) == ()

"""Features in which only some machines differ: the others have one value of it."""

from dataclasses import replace

import numpy as np
import pytest

from counterpoise.catalog.loader import load_family
from counterpoise.workshop.diagnosis.evidence.complaint import after_complaints
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import prior_belief
from counterpoise.workshop.diagnosis.kinds.kinds import kinds_of
from counterpoise.workshop.jobs.entries import Intake

FAMILY = load_family("front_loader")


def test_only_belts_have_motors_with_brushes_and_the_shares_are_those_of_the_catalog():
    kinds = kinds_of(FAMILY, {})
    share = FAMILY.features["motor"].share["brushed"]
    assert not any(
        machine["drive"] == "direct" and machine["motor"] == "brushed" for machine in kinds.machines
    )
    assert sum(kinds.share) == pytest.approx(1.0)
    drives = kinds.chances("drive", kinds.share)
    assert drives == pytest.approx(dict(FAMILY.features["drive"].share))
    # among those with a belt as often as the catalog says
    assert kinds.chances("motor", kinds.share)["brushed"] == pytest.approx(drives["belt"] * share)


def test_who_knows_of_brushes_knows_of_the_belt():
    kinds = kinds_of(FAMILY, {"motor": "brushed"})
    assert kinds.chances("drive", kinds.share) == {"belt": 1.0}
    assert {machine["motor"] for machine in kinds_of(FAMILY, {"drive": "direct"}).machines} == {
        "brushless"
    }


def test_brushes_told_of_a_machine_without_a_belt_are_not_believed():
    kinds = kinds_of(FAMILY, {"drive": "direct", "motor": "brushed"})
    assert {machine["motor"] for machine in kinds.machines} == {"brushless"}
    assert sum(kinds.share) == pytest.approx(1.0)


def test_who_names_a_noise_is_silent_on_its_kin_without_denying_them():
    """A squeal told of does not speak against a fault that would rattle; silence on walking does."""
    model = family_model(FAMILY)
    prior = prior_belief(model, 8.0, {"drive": "belt"})
    intake = Intake("front_loader", "customer", "x", ("squeals",))
    with_kin = after_complaints(model, intake, prior)
    alone = {name: replace(complaint, kin="") for name, complaint in FAMILY.complaints.items()}
    without = after_complaints(
        replace(model, family=replace(FAMILY, complaints=alone)), intake, prior
    )
    rattling = model.mask("baffle_loose")
    assert np.exp(with_kin[rattling]).sum() > 1.05 * np.exp(without[rattling]).sum()

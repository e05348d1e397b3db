"""Every finding moves its suspects the way the trade says, whatever the figures of the catalog."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import yaml

from counterpoise.catalog.loader import families, load_family
from counterpoise.reasoning.belief import normalised, to_log
from counterpoise.workshop.diagnosis.evidence.complaint import after_complaints
from counterpoise.workshop.diagnosis.family_model import FamilyModel, family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import joint_prior, prior_belief
from counterpoise.workshop.diagnosis.kinds.kinds import kinds_of
from counterpoise.workshop.jobs.entries import Intake

WRITTEN = Path(__file__).parent / "directions"
# An age at which nearly all wear is under way and no part is past its life.
AGE_YEARS = 8.0
# Fewer would mean that lines were lost on the way here.
LEAST = {"front_loader": 400, "spin_dryer": 170, "top_loader": 280, "tumble_dryer": 330}


@cache
def written(name):
    return yaml.safe_load((WRITTEN / f"{name}.yaml").read_text(encoding="utf-8"))


def directions(name):
    """(check, outcome, suspect, +1 raises or -1 lowers), in the order of the file."""
    return [
        (check, outcome, suspect, sign)
        for check, lines in written(name)["directions"].items()
        for outcome, line in lines.items()
        if outcome != "source"
        for way, sign in (("raises", 1), ("lowers", -1))
        for suspect in line.get(way, ())
    ]


@cache
def belief_and_chances(name, complaint):
    """(H,) log belief of a machine whose features are not known, and each suspect's chance."""
    model = family_model(load_family(name))
    belief = prior_belief(model, AGE_YEARS, {})
    if complaint:
        intake = Intake(name, "customer", "", (complaint,))
        belief = after_complaints(model, intake, belief)
    return belief, model.fault_chances(np.exp(belief))


@cache
def chances_after(name, complaint, check, outcome):
    model: FamilyModel = family_model(load_family(name))
    belief, _ = belief_and_chances(name, complaint)
    entry = model.family.checks[check]
    # what machine it is speaks of the faults that only such machines have
    if entry.tells:
        kinds = kinds_of(model.family, {})
        joint = joint_prior(model, AGE_YEARS, kinds)
        if complaint:
            joint = after_complaints(model, Intake(name, "customer", "", (complaint,)), joint)
        told = to_log(kinds.told_by(entry, outcome))[:, None]
        return model.fault_chances(np.exp(normalised(joint + told, what=outcome)).sum(axis=0))
    row = model.tables[check][list(model.checks[check].outcomes).index(outcome)]
    return model.fault_chances(np.exp(normalised(belief + to_log(row), what=outcome)))


@pytest.mark.parametrize("name", families())
def test_each_finding_moves_its_suspects_the_way_the_trade_says(name):
    usual = {
        suspect: complaint
        for complaint, suspects in written(name)["complaints"].items()
        for suspect in suspects
    }
    wrong = []
    for check, outcome, suspect, sign in directions(name):
        for complaint in (None, usual[suspect]):
            before = belief_and_chances(name, complaint)[1][suspect]
            after = chances_after(name, complaint, check, outcome)[suspect]
            if not sign * (after - before) > 0.0:
                way = "raise" if sign > 0 else "lower"
                wrong.append(
                    f"{check} {outcome} must {way} {suspect}: "
                    f"{before:.4f} to {after:.4f} with {complaint or 'no complaint'}"
                )
    assert not wrong, "\n".join([f"{len(wrong)} tries go the wrong way", *wrong])


@pytest.mark.parametrize("name", families())
def test_directions_speak_of_every_check_and_of_nearly_every_suspect(name):
    family = load_family(name)
    assert written(name)["family"] == name
    assert set(written(name)["directions"]) == set(family.checks)
    assert len(directions(name)) >= LEAST[name]
    suspects = {suspect for _, _, suspect, _ in directions(name)}
    assert suspects <= set(family.faults)
    assert len(suspects) >= 0.9 * len(family.faults)


@pytest.mark.parametrize("name", families())
def test_directions_say_where_they_come_from_and_contradict_nothing(name):
    assert all(
        lines["source"] in {"common practice", "from memory"}
        for lines in written(name)["directions"].values()
    )
    ways = {}
    for check, outcome, suspect, sign in directions(name):
        assert ways.setdefault((check, outcome, suspect), sign) == sign

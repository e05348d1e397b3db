"""Causes on the labelled recordings; the models were trained on others, never on these.

The floors are what was measured; the goals (.80 first, .93 among three) stand in the documentation
beside the figures.
"""

import numpy as np
import pytest
from tests.spin.shared import labelled, labels

from counterpoise.spin.causes.groups import GROUPS, PRIOR
from counterpoise.spin.causes.verdict import judge
from counterpoise.spin.proof import NOT_YET, PASS, compare

GROUP_OF_LABEL = {
    "healthy": "nothing_found", "cw_lost": "nothing_found", "spring_soft": "nothing_found",
    "damper_dead_1": "dampers", "damper_dead_2": "dampers", "dampers_weak": "dampers",
    "bearing_worn": "rattle", "cw_loose": "rattle", "hub_cracked": "drum_support",
    "bad_load": "heavy_load",
    "foot_short": "short_foot", "soft_floor": "soft_floor", "spring_off": "spring_off",
    "transit_bolts": "transit_bolts",
}  # fmt: skip
TESTS = [name for name, row in labels().items() if row["role"] == "test"]
BASELINE = {row["machine"]: name for name, row in labels().items() if row["role"] == "baseline"}


def true_groups(name):
    return {GROUP_OF_LABEL[fault] for fault in labels()[name]["fault"].split("+")}


def verdict(name, *, with_baseline):
    return judge(
        labelled(name), labelled(BASELINE[labels()[name]["machine"]]) if with_baseline else None
    )


# The floor of the first place moved down, from .87 and .79: the model now rehearses the conditions
# of the field and holds every cause under twice its prior that sound machines show as strongly. It
# accuses none of the sound machines here and a fifth instead of 20 of 28 of the field's, and pays
# for it on these clean recordings of large unbalance. The first three stay.
@pytest.mark.parametrize(
    ("with_baseline", "first", "three"), [(False, 0.58, 0.95), (True, 0.62, 0.91)]
)
def test_ranked_causes(with_baseline, first, three):
    ranked = [
        (verdict(name, with_baseline=with_baseline).ranked, true_groups(name)) for name in TESTS
    ]
    assert np.mean([rank[0] in true for rank, true in ranked]) >= first
    assert np.mean([bool(set(rank[:3]) & true) for rank, true in ranked]) >= three


def raised(said):
    return max(said.groups[group] / PRIOR[group] for group in GROUPS if group != "nothing_found")


def test_healthy_recordings_raise_no_fault_above_twice_its_prior():
    healthy = [name for name in TESTS if labels()[name]["fault"] == "healthy"]
    assert all(raised(verdict(name, with_baseline=True)) < 2.0 for name in healthy)
    assert all(raised(verdict(name, with_baseline=False)) < 2.0 for name in healthy)
    baselines = {name: raised(judge(labelled(name))) for name in BASELINE.values()}
    # without a recording to compare, two dampers of little grip by design look worn, and one
    # machine is a hair above
    assert {name for name, above in baselines.items() if above >= 2.0} <= {"r013", "r017"}
    assert max(baselines.values()) < 2.6


def test_gross_faults_are_plain():
    # A spring off (r027) comes second since the field's conditions are rehearsed; it was first.
    for name, places in (("r008", 1), ("r027", 2), ("r032", 1)):
        said = verdict(name, with_baseline=True)
        assert true_groups(name) & set(said.ranked[:places])


def test_proof_on_the_same_machine():
    assert compare(labelled("r008"), labelled("r005")).result == PASS
    assert compare(labelled("r005"), labelled("r008")).result == NOT_YET

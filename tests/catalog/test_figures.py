"""The figures a job can keep, beside the machine in motion that takes them."""

import pytest

from counterpoise.catalog.loader import families, load_family
from counterpoise.dynamics.machines.families import FAMILIES
from counterpoise.report.views.machine_figures import TOP, TOTAL

# of the others nothing is simulated
MODELLED = [name for name in families() if name in FAMILIES]


@pytest.mark.parametrize("name", MODELLED)
def test_a_figure_for_the_machine_in_motion_has_the_range_that_it_holds_for(name):
    catalog, model = load_family(name), FAMILIES[name].values
    named = [one for one in catalog.figures.values() if one.twin and one.twin not in {TOP, TOTAL}]
    assert named
    for one in named:
        value = model[one.twin]
        assert one.low * one.scale == pytest.approx(value.low)
        assert one.high * one.scale == pytest.approx(value.high)
        assert one.whole == value.whole


@pytest.mark.parametrize("name", MODELLED)
def test_the_whole_machine_weighs_what_its_two_halves_can(name):
    whole, values = load_family(name).figures["machine_kg"], FAMILIES[name].values
    assert whole.low == values["oscillating_kg"].low + values["cabinet_kg"].low
    assert whole.high == values["oscillating_kg"].high + values["cabinet_kg"].high


@pytest.mark.parametrize("name", families())
def test_what_the_plate_says_is_asked_when_the_machine_comes_in(name):
    family = load_family(name)
    # what only tumbles has no spin speed on its plate
    speed = {"spin_rpm"} if family.body.spins else set()
    assert {"rated_load_kg", "machine_kg"} | speed <= {
        k for k, f in family.figures.items() if f.intake
    }


@pytest.mark.parametrize("name", sorted(set(families()) - set(MODELLED)))
def test_a_family_without_a_model_in_motion_claims_none(name):
    family = load_family(name)
    assert not [one.id for one in family.figures.values() if one.twin]
    assert not [fault.id for fault in family.faults.values() if fault.twin or fault.twins]

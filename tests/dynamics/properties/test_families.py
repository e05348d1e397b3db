"""Families, faults and the checks of a machine: what may be asked for, and what becomes of it."""

from dataclasses import fields, replace

import numpy as np
import pytest

from counterpoise.dynamics import FAMILIES, FAULTS, build, draw, with_fault
from counterpoise.dynamics.kernels.layout import BUSHINGS
from counterpoise.dynamics.machines.families import allowed, family, shared_out
from counterpoise.dynamics.machines.faults import applies
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.machines.top_loader import ring_added_mass_kg
from counterpoise.dynamics.machines.value import Value
from counterpoise.dynamics.motion.check import MOST_DAMPERS, check, numbers
from counterpoise.dynamics.motion.pack import pack
from counterpoise.dynamics.motion.simulate import time_step
from counterpoise.errors import InputError

EVERY = [(key, name) for key in FAMILIES for name in FAMILIES[key].values]
POSSIBLE = [(key, fault) for key in FAMILIES for fault in FAULTS if applies(build(key), fault)]


@pytest.mark.parametrize(("key", "name"), EVERY)
@pytest.mark.parametrize("end", ["low", "high"])
def test_both_ends_of_every_range_make_a_machine_and_beyond_them_none(key, name, end):
    value = family(key).values[name]
    number = getattr(value, end)
    assert isinstance(build(key, {name: number}), Machine)
    beyond = number + (1.0 if end == "high" else -1.0) * max(1e-6, 1e-3 * abs(number))
    with pytest.raises(InputError, match=r"is valid") as refused:
        build(key, {name: beyond})
    assert refused.value.field == name


@pytest.mark.parametrize("number", [float("nan"), float("inf"), -float("inf")])
def test_no_number_is_no_value(number):
    with pytest.raises(InputError, match="1 to 3 is valid"):
        allowed("x", Value(2.0, 1.0, 3.0, "kg", "made up"), number)


@pytest.mark.parametrize(
    ("number", "fits"), [(2.0, True), (3.0, True), (2.5, False), (2.01, False)]
)
def test_pieces_come_whole(number, fits):
    pieces = Value(2.0, 2.0, 4.0, "pieces", "made up", whole=True)
    if fits:
        assert allowed("x", pieces, number) == number
    else:
        with pytest.raises(InputError, match="whole number from 2 to 4"):
            allowed("x", pieces, number)


@pytest.mark.parametrize("key", FAMILIES)
@pytest.mark.parametrize("total", [55.0, 62.0, 70.0])
def test_a_machine_weighed_whole_is_shared_out_to_the_gram(key, total):
    shared = shared_out(key, total, {})
    assert sum(shared.values()) == pytest.approx(total)
    for name, kg in shared.items():
        value = family(key).values[name]
        assert value.low - 1e-9 <= kg <= value.high + 1e-9


def test_what_is_known_of_a_machine_stays_and_the_rest_is_the_rest():
    shared = shared_out("front_loader", 78.0, {"cabinet_kg": 22.0})
    assert shared == pytest.approx({"oscillating_kg": 56.0, "cabinet_kg": 22.0})
    usual = shared_out("front_loader", 80.0, {})
    assert usual == pytest.approx({"oscillating_kg": 60.0, "cabinet_kg": 20.0})


@pytest.mark.parametrize("total", [49.9, 94.1, float("nan"), -3.0])
def test_a_sum_that_cannot_be_says_what_can(total):
    with pytest.raises(InputError, match="50 to 94 kg is valid") as refused:
        shared_out("front_loader", total, {})
    assert refused.value.field == "machine_kg"


@pytest.mark.parametrize("key", FAMILIES)
def test_the_same_seed_draws_the_same_machine_and_what_is_given_is_kept(key):
    first, again = (draw(key, np.random.default_rng(4)) for _ in range(2))
    assert first == again
    given = draw(key, np.random.default_rng(4), {"cabinet_kg": 20.0})
    assert given.cabinet.mass_kg == 20.0
    # everything else is drawn as it would have been
    assert replace(given, cabinet=first.cabinet) == first


def test_a_ring_adds_a_disc_of_its_liquid():
    assert build("top_loader").ring.added_kg == ring_added_mass_kg(1200.0, 0.225, 0.04)
    double = ring_added_mass_kg(1200.0, 0.45, 0.04)
    assert double == pytest.approx(4 * ring_added_mass_kg(1200.0, 0.225, 0.04))


@pytest.mark.parametrize(("key", "fault"), POSSIBLE)
def test_a_fault_changes_a_copy_and_leaves_a_machine_that_can_be(key, fault):
    machine = build(key).with_unbalance(0.3)
    before = repr(machine)
    for severity in (0.25, 1.0):
        changed = with_fault(machine, fault, severity)
        assert changed != machine
        check(changed)
    assert repr(machine) == before


@pytest.mark.parametrize(("key", "fault"), POSSIBLE)
def test_half_a_fault_is_not_the_whole_one(key, fault):
    machine = build(key)
    assert with_fault(machine, fault, 0.5) != with_fault(machine, fault, 1.0)


@pytest.mark.parametrize(
    ("key", "fault"), [(key, fault) for key, fault in POSSIBLE if FAULTS[fault].parts(build(key))]
)
def test_a_fault_of_a_part_can_be_in_each_of_them_and_in_no_other(key, fault):
    machine = build(key)
    count = FAULTS[fault].parts(machine)
    changed = [with_fault(machine, fault, 1.0, which) for which in range(count)]
    assert len({repr(one) for one in changed}) == count
    for which in (count, -1):
        with pytest.raises(InputError, match=f"0 to {count - 1} is valid"):
            with_fault(machine, fault, 1.0, which)


def test_faults_add_up_in_any_order():
    machine = build("front_loader")
    one_way = with_fault(with_fault(machine, "short_foot"), "damper_dead")
    other_way = with_fault(with_fault(machine, "damper_dead"), "short_foot")
    assert one_way == other_way


def test_every_number_of_a_machine_has_a_path_of_its_own():
    found = numbers(build("front_loader").with_unbalance(0.3))
    paths = [path for path, _ in found]
    assert len(paths) == len(set(paths))
    assert ("feet[0].friction", 0.6) in found
    assert "load.unbalances[0].mass_kg" in paths
    assert "stops.ends_m[1][2]" in paths
    # words and yes or no are no numbers
    assert not [path for path in paths if path.endswith((".name", ".laundry", ".pulls_only"))]
    assert numbers("word") == numbers(True) == []


def test_every_part_of_a_machine_is_looked_at():
    machine = build("top_loader").with_unbalance(0.3)
    parts = {path.split(".")[0].split("[")[0] for path, _ in numbers(machine)}
    named = {field.name for field in fields(Machine)} - {"family"}
    # a machine without bellows, bolts or lumps has no number there
    assert named - parts <= {"bellows"}


@pytest.mark.parametrize("path", ["cabinet.mass_kg", "feet[2].friction", "tub.centre_m[1]"])
def test_a_number_that_is_none_is_refused_by_its_path(path):
    machine = build("front_loader")
    broken = {
        "cabinet.mass_kg": lambda: replace(
            machine, cabinet=replace(machine.cabinet, mass_kg=float("nan"))
        ),
        "feet[2].friction": lambda: replace(
            machine,
            feet=(*machine.feet[:2], replace(machine.feet[2], friction=float("inf")),
                  machine.feet[3]),
        ),
        "tub.centre_m[1]": lambda: replace(
            machine, tub=replace(machine.tub, centre_m=(0.0, float("nan"), 0.46))
        ),
    }[path]()  # fmt: skip
    with pytest.raises(InputError, match="give a number") as refused:
        check(broken)
    assert refused.value.field == path


def test_as_many_dampers_as_have_a_place_and_no_more():
    machine = build("front_loader")
    most = replace(machine, dampers=MOST_DAMPERS * machine.dampers[:1])
    check(most)
    assert MOST_DAMPERS == BUSHINGS
    with pytest.raises(InputError, match="up to 8"):
        check(replace(most, dampers=(*most.dampers, machine.dampers[0])))


@pytest.mark.parametrize("rate", [10.0, 100.0, 200.0, 333.0, 4000.0])
@pytest.mark.parametrize("fault", ["transit_bolts", "damper_weak", None])
def test_a_sample_is_a_whole_number_of_steps_and_stiff_ties_ask_for_shorter_ones(rate, fault):
    machine = build("front_loader")
    step, every = time_step(pack(with_fault(machine, fault) if fault else machine), rate)
    assert step * every == pytest.approx(1.0 / rate)
    assert step <= 5e-4
    # at 4000 Hz a sample is shorter than any step has to be
    if fault == "transit_bolts" and rate < 1000.0:
        assert step < time_step(pack(machine), rate)[0]

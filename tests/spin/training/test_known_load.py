"""A rehearsed machine spun again with a towel tied in, and the rows measured on such machines."""

import numpy as np
import pytest
from benchmarks.tied_load import counts_of, rehearsed, rows_of

from counterpoise.catalog.loader import load_family
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.training.examples import machine_examples, runs_of_machine
from counterpoise.spin.training.known_load import (
    KEPT_SHARE,
    TEST_LOAD_KG,
    tied_examples,
    with_test_load,
)
from counterpoise.spin.training.random_machines import random_machine

NUMBER, SEED = 100003, 2027


@pytest.fixture(scope="module")
def tied():
    return tied_examples(NUMBER, SEED)


def test_the_towel_is_all_that_is_other(tied):
    """Machine, fault, programme and phone are drawn as in the rehearsal, run by run."""
    drawn = [run.faults for run in runs_of_machine(NUMBER, SEED)]
    held = [(faults, run[0]) for faults, run in zip(drawn, tied, strict=True) if run]
    assert len(held) >= 4
    assert all(run[0] == faults for faults, run in held)
    assert not any("heavy_load" in faults for faults, _ in held)
    # at one programme and one top speed; with another load it shakes otherwise
    plain, other = machine_examples(NUMBER, SEED)[0][0][1], held[0][1][1]
    assert other["top_krpm"] == pytest.approx(plain["top_krpm"], rel=0.02)
    assert other != plain


def test_what_was_drawn_is_drawn_again(tied, tmp_path):
    """From the folder where it is there, which holds what a fresh draw gives."""
    first = rehearsed([NUMBER], SEED, tmp_path)
    stamp = (tmp_path / f"{SEED}-{NUMBER}.json").stat().st_mtime_ns
    again = rehearsed([NUMBER], SEED, tmp_path)
    assert (tmp_path / f"{SEED}-{NUMBER}.json").stat().st_mtime_ns == stamp
    for runs in (first, again):
        assert [[faults for faults, _ in run] for run in runs] == [[f for f, _ in r] for r in tied]
        assert np.allclose(
            [list(s.values()) for run in runs for _, s in run],
            [list(s.values()) for run in tied for _, s in run],
            equal_nan=True,
        )


@pytest.mark.parametrize("alone", [True, False])
def test_the_towel_hangs_at_the_wall_and_does_not_tumble(alone):
    rng = np.random.default_rng(3)
    machine = random_machine(rng)
    load = with_test_load(machine, rng, alone=alone).load
    towel = load.unbalances[0 if alone else -1 if machine.load.unbalances else 0]
    low, high = (TEST_LOAD_KG * share for share in KEPT_SHARE)
    assert low <= towel.mass_kg <= high
    assert 0.93 <= towel.radius_m / machine.drum.radius_m <= 0.99
    # beside laundry that is there it is one more; alone it is all there is but the drum's own
    assert load.lumps == (0 if alone else machine.load.lumps)
    assert len(load.unbalances) == (2 if alone else 1 + len(machine.load.unbalances))


def test_the_rows_are_the_shares_that_were_counted():
    """Of 90 recordings of a worn bearing 60 say rattle; ten of the unknown load count beside them."""
    family = load_family("front_loader")
    counted = np.zeros(len(GROUPS))
    counted[GROUPS.index("rattle")], counted[-1] = 60, 30
    sound = np.zeros(len(GROUPS))
    sound[-1] = 90
    rows = rows_of({"bearing_worn": counted, "sound": sound}, family)
    unknown = family.checks["spin_recording"].under
    own = (60 + 10 * unknown["bearing_worn:gone"]["rattle"]) / 100
    normal = 10 * unknown["normal"]["rattle"] / 100
    assert rows["bearing_worn:gone"]["rattle"] == pytest.approx(0.9 * own + 0.1 * normal, abs=6e-4)
    lesser = unknown["bearing_worn:early"]["rattle"] / unknown["bearing_worn:gone"]["rattle"]
    assert rows["bearing_worn:early"]["rattle"] == pytest.approx(
        lesser * (0.9 * own + 0.1 * normal), abs=6e-4
    )
    assert set(rows) == set(family.checks["spin_test_load"].under)


def test_two_faults_at_once_are_in_no_row():
    assert counts_of([[(("bearing_worn", "soft_floor"), {})]]) == {}

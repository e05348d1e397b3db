"""The rehearsed machines again, each with a test load: one wet towel tied to one side of the drum.

Draws are those of ``runs_of_machine`` to the last: machine, fault, programme, phone and noise are
the same, only the laundry is another. So what a test load tells over an unknown one is measured on
pairs.
"""

from dataclasses import replace

import numpy as np

from counterpoise.dynamics import Load, Machine, Unbalance, simulate
from counterpoise.errors import InputError
from counterpoise.spin.training.examples import Example, RehearsedRun, runs_of_machine, signature_of
from counterpoise.spin.training.synthetic_recordings import PANEL_RATE_HZ, SyntheticSpin

# A hand towel, wet and wrung by hand, on the kitchen scale; the spin wrings out up to a quarter of
# that (estimate).
TEST_LOAD_KG = 0.3
KEPT_SHARE = (0.75, 1.0)
# A drum that is otherwise empty is out of balance by so much itself, kg at its wall (estimate).
OWN_UNBALANCE_KG = (0.005, 0.03)
# Tied halfway back, against the wall.
DEPTH, AT_WALL = (0.4, 0.6), (0.93, 0.99)


def with_test_load(machine: Machine, rng: np.random.Generator, *, alone: bool) -> Machine:
    """Tie the towel in; ``alone`` in an empty drum, else beside the laundry that is there."""
    drum = machine.drum
    towel = Unbalance(
        TEST_LOAD_KG * float(rng.uniform(*KEPT_SHARE)),
        drum.radius_m * float(rng.uniform(*AT_WALL)),
        drum.depth_m * float(rng.uniform(*DEPTH)),
        float(rng.uniform(0, 2 * np.pi)),
    )
    own = Unbalance(
        float(rng.uniform(*OWN_UNBALANCE_KG)), drum.radius_m, drum.depth_m * float(rng.uniform()),
        float(rng.uniform(0, 2 * np.pi)),
    )  # fmt: skip
    # Tied, it does not tumble.
    load = Load(TEST_LOAD_KG, (towel, own), 0)
    if not alone:
        load = replace(machine.load, unbalances=(*machine.load.unbalances, towel))
    return replace(machine, load=load)


def tied_examples(number: int, seed: int, *, alone: bool = True) -> list[list[Example]]:
    """Signatures of one machine's runs as ``machine_examples`` has them, each with the test load.

    A run that cannot be had is empty; so is one of a heavy thing in the drum, which the towel takes
    the place of.
    """
    return [_heard(run, seed, alone) for run in runs_of_machine(number, seed)]


def _heard(run: RehearsedRun, seed: int, alone: bool) -> list[Example]:
    if "heavy_load" in run.faults:
        return []
    rng = np.random.default_rng([seed, 90, run.number, run.run])
    try:
        spin = _answered(run, rng, alone)
    except (InputError, np.linalg.LinAlgError):
        return []
    return [
        (run.faults, signature_of(each.t_s, each.acc_ms2))
        for each in (spin.recordings if spin else ())
    ]


def _answered(run: RehearsedRun, rng: np.random.Generator, alone: bool) -> SyntheticSpin | None:
    asking = run.asked()
    try:
        machine, spin = next(asking)
        tied = with_test_load(machine, rng, alone=alone)
        while True:
            # A spin that was given up is tried again with the towel where it was.
            _, spin = asking.send(simulate(tied, spin, PANEL_RATE_HZ))
    except StopIteration as end:
        kept: SyntheticSpin | None = end.value
        return kept

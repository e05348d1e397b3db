"""Rehearsed pairs of spins: one machine before and after a repair, so that a proof can be judged.

The machine, its programme and mostly its phone are the same both times; the load is another, and so
is the spot where the phone lies. What the repair did is drawn: it cured the fault, left it as it
was, renewed something that was good, or cured it and spoiled something else. All ranges are
estimates unless said otherwise.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from counterpoise.dynamics import Controller, Machine, Phone, Run, SpinResult, simulate
from counterpoise.errors import InputError
from counterpoise.spin.files.read import recording_from_samples
from counterpoise.spin.recording import Recording
from counterpoise.spin.training.examples import GROUP_OF
from counterpoise.spin.training.field_conditions import (
    Panel,
    field_profile,
    field_recording,
    random_panel,
)
from counterpoise.spin.training.random_machines import with_random_fault, with_random_load
from counterpoise.spin.training.synthetic_recordings import (
    PANEL_RATE_HZ,
    random_phone,
    random_place,
    random_setup,
)

# Another seed than that of the machines which the reader learned from.
PAIRS_SEED = 2031
NOT_RUN = "none"
REPAIRED, LEFT, WRONG, SPOILED = "repaired", "not repaired", "repaired wrongly", "spoiled"
# Half of the repairs hold, so that both errors are measured on as many pairs.
KINDS = (REPAIRED, LEFT, REPAIRED, WRONG, REPAIRED, SPOILED)
# What a repair spoils: a foot not locked, a weight's bolts not tightened, a spring not hooked in, a
# damper's pin left out, a new bearing pressed in askew.
SPOILS = ("short_foot", "counterweight_loose", "spring_off", "damper_dead", "bearing_worn")
# Faults that a repair can be tried on; a load is put right by hand, and shows at once.
MENDED = tuple(sorted(set(GROUP_OF) - {"sound"}))
SAME_PHONE, SAME_SPOT = 0.8, 0.5
# Shorter than this nothing was run that could be compared.
LEAST_SPIN_S = 25.0


@dataclass(frozen=True)
class RehearsedPair:
    """Spins before and after; ``fault`` is what it came in with, ``left`` what is wrong after.

    ``kind`` is one of KINDS, ``left`` "" where the repair held.
    """

    number: int
    kind: str
    fault: str
    left: str
    before: Recording
    after: Recording

    @property
    def good(self) -> bool:
        """Whether the machine is in order after the repair."""
        return not self.left


def rehearsed_pair(number: int, seed: int) -> RehearsedPair | None:
    """Draw and move pair ``number``; None where the machine could not be run both times."""
    rng = np.random.default_rng([seed, 515, number])
    kind, fault = KINDS[number % len(KINDS)], str(rng.choice(MENDED))
    left = {REPAIRED: "", LEFT: fault, WRONG: fault}.get(kind) or _spoiled(kind, fault, rng)
    setup = random_setup(rng)
    # One draw of sizes for both times: a fault left in is the very same fault.
    sizes = int(rng.integers(2**31))
    phone, panel = random_place(rng), random_panel(rng)
    controller = (
        Controller(ripple_limit=float(rng.uniform(0.1, 0.35)), attempts=3)
        if rng.random() < 0.25
        else None
    )
    profile = field_profile(rng, float(rng.uniform(750, 1550)))
    loaded = with_random_load(setup.machine, rng, well_spread=True)
    runs = [(_with(loaded, fault, sizes), Run(profile, controller, phone, seed=_seed(rng)), panel)]
    elsewhere = _elsewhere(phone, rng)
    again = with_random_load(_worked_on(setup.machine, rng, renewed=kind == WRONG), rng,
                             well_spread=True)  # fmt: skip
    # About as much laundry as before: the same two towels, or two of another cupboard.
    kilos = loaded.load.mass_kg * float(rng.uniform(0.8, 1.25))
    again = replace(again, load=replace(again.load, mass_kg=kilos))
    size_after = sizes if left == fault else int(rng.integers(2**31))
    runs.append(
        (
            _with(again, left, size_after),
            Run(profile, controller, elsewhere, seed=_seed(rng)),
            _other_spot(panel, rng),
        )
    )
    before, after = (_recorded(*run, np.random.default_rng(_seed(rng))) for run in runs)
    if before is None or after is None:
        return None
    return RehearsedPair(number, kind, fault, left, before, after)


def _seed(rng: np.random.Generator) -> int:
    return int(rng.integers(2**31))


def _spoiled(kind: str, fault: str, rng: np.random.Generator) -> str:
    others = [each for each in SPOILS if each != fault]
    return str(rng.choice(others)) if kind == SPOILED else ""


def _with(machine: Machine, fault: str, sizes: int) -> Machine:
    return with_random_fault(machine, fault, np.random.default_rng(sizes)) if fault else machine


def _worked_on(machine: Machine, rng: np.random.Generator, *, renewed: bool) -> Machine:
    """Return the machine as it stands after work: moved, levelled anew, dampers perhaps renewed."""
    a, b, c, d = (replace(foot, length_m=float(rng.uniform(0, 1.5e-4))) for foot in machine.feet)
    # New dampers are of another maker; old ones were only warmed by the spin.
    grip = float(rng.uniform(0.75, 1.35) if renewed else rng.uniform(0.95, 1.05))
    dampers = tuple(replace(each, friction_n=grip * each.friction_n) for each in machine.dampers)
    return replace(machine, feet=(a, b, c, d), dampers=dampers)


def _elsewhere(phone: Phone, rng: np.random.Generator) -> Phone:
    """Lay the phone on the same panel, at another spot and turned anyhow."""
    other = random_phone(rng)
    # Upright on a side or the front it stays there, and moves along the edge.
    if abs(phone.roll_rad) > 1 or abs(phone.pitch_rad) > 1:
        return (
            replace(phone, y_m=other.y_m)
            if abs(phone.roll_rad) > 1
            else replace(phone, x_m=other.x_m)
        )
    return other


def _other_spot(panel: Panel, rng: np.random.Generator) -> Panel:
    """The same sheet of steel felt elsewhere, mostly by the same phone."""
    sensor = panel if rng.random() < SAME_PHONE else random_panel(rng)
    strange = random_panel(rng)
    modes = panel.modes
    if rng.random() > SAME_SPOT:
        # The same modes, but each spot has its own share of them and moves its own way.
        drawn = [strange.modes[i % len(strange.modes)] for i in range(len(modes))]
        modes = tuple(
            (f0, zeta, take, give)
            for (f0, zeta, _, give), (_, _, take, _) in zip(modes, drawn, strict=True)
        )
    return replace(
        sensor,
        modes=modes,
        motor_order=panel.motor_order,
        motor_ms2=panel.motor_ms2,
        bend=panel.bend,
    )


def _recorded(
    machine: Machine, run: Run, panel: Panel, rng: np.random.Generator
) -> Recording | None:
    try:
        result = whole_part(simulate(machine, run, PANEL_RATE_HZ))
    except (InputError, np.linalg.LinAlgError):
        return None  # a machine the dynamics room cannot bring to rest: rare, and no loss
    return field_recording(result, panel, PANEL_RATE_HZ, rng)[0] if result else None


def whole_part(result: SpinResult) -> SpinResult | None:
    """Return a spin up to where it broke loose or tipped; None where that left nothing to read."""
    whole = np.isfinite(result.panel_m_s2.sum(axis=1))
    end = len(whole) if whole.all() else int(np.argmin(whole))
    stood = abs(float(result.drum_rpm[end - 1])) < 5
    if end < LEAST_SPIN_S * PANEL_RATE_HZ or not (stood or result.drum_rpm[:end].max() > 250):
        return None
    return replace(
        result,
        t_s=result.t_s[:end],
        panel_m_s2=result.panel_m_s2[:end],
        drum_rpm=result.drum_rpm[:end],
        drum_rad=result.drum_rad[:end],
    )


def kept_pair(number: int, seed: int, keep: Path | None = None) -> RehearsedPair | None:
    """Pair ``number``, from the folder ``keep`` where it lies there, else drawn and put there."""
    file = keep / f"{number}.npz" if keep else None
    if file and file.exists():
        with np.load(file) as stored:
            return _from_arrays(number, dict(stored))
    pair = rehearsed_pair(number, seed)
    if file:
        arrays: dict[str, np.ndarray] = {"kind": np.array(pair.kind if pair else NOT_RUN)}
        if pair:
            arrays |= {"fault": np.array(pair.fault), "left": np.array(pair.left)}
            for when, each in (("b", pair.before), ("a", pair.after)):
                # Single precision, as phones are no better.
                arrays[f"t{when}"] = each.t_s.astype(np.float32)
                arrays[f"a{when}"] = each.acc_ms2.astype(np.float32)
        np.savez_compressed(file, allow_pickle=False, **arrays)
    return pair


def _from_arrays(number: int, arrays: dict[str, np.ndarray]) -> RehearsedPair | None:
    if str(arrays["kind"]) == NOT_RUN:
        return None
    recordings = []
    for when in ("b", "a"):
        t = arrays[f"t{when}"].astype(float)
        # Times in single precision can meet; of two samples at one time the first stays.
        rises = np.concatenate([[True], np.diff(np.maximum.accumulate(t)) > 0])
        acc = arrays[f"a{when}"].astype(float)[rises]
        recordings.append(recording_from_samples(t[rises] - t[0], acc))
    kind, fault, left = (str(arrays[key]) for key in ("kind", "fault", "left"))
    return RehearsedPair(number, kind, fault, left, *recordings)

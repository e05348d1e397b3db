"""The machine in motion on an accelerator, held against the processor's kernels: agreement, speed.

``python -m benchmarks.accelerator agreement`` spins 200 drawn machines of every fault on both and
tells how far they are apart; ``speed`` tells machine-seconds a second by number of machines;
``one`` runs one short batch, to be looked at with a profiler. Wants an accelerator.
"""

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

import numpy as np

from counterpoise.dynamics import Machine, Run, SpinResult, hold, run_up, simulate
from counterpoise.dynamics.batch.lanes import PreparedSpin, prepare, stacked
from counterpoise.dynamics.batch.spins import SHAPES, simulate_batch, spin_result
from counterpoise.errors import InputError
from counterpoise.spin.training.examples import GROUP_OF
from counterpoise.spin.training.field_conditions import field_profile
from counterpoise.spin.training.programmes import random_profile
from counterpoise.spin.training.random_machines import with_random_fault, with_random_load
from counterpoise.spin.training.synthetic_recordings import (
    PANEL_RATE_HZ,
    random_place,
    random_setup,
)

KEPT = ("panel", "foot", "place", "stop")
PRECISIONS = {"double": np.float64, "single": np.float32}
Case = tuple[str, PreparedSpin, dict[str, np.ndarray]]
# A change of every spring and foot that no machine knows of: what it moves is chance.
HAIR = 1e-12


def drawn(number: int) -> tuple[str, Machine, Run]:
    """Machine, run and fault of one number, every fault in turn."""
    rng = np.random.default_rng([19, number])
    faults = ["sound", *sorted(set(GROUP_OF) - {"sound"})]
    fault = faults[number % len(faults)]
    setup = random_setup(rng)
    machine = with_random_load(setup.machine, rng, well_spread=bool(number % 2))
    if fault != "sound":
        machine = with_random_fault(machine, fault, rng)
    profile = (field_profile if number % 2 else random_profile)(rng, setup.top_rpm)
    return fault, machine, Run(profile, None, random_place(rng), seed=number)


def on_processor(number: int, hair: float = 0.0) -> Case | None:
    """Fault, the prepared spin and what the processor makes of it, in single precision."""
    fault, machine, run = drawn(number)
    springs = [replace(s, stiffness_n_m=s.stiffness_n_m * (1 + hair)) for s in machine.springs]
    try:
        prepared = prepare(machine, run, PANEL_RATE_HZ)
    except InputError:
        return None
    r = simulate(replace(machine, springs=tuple(springs)), run, PANEL_RATE_HZ)
    kept = {"panel": r.panel_m_s2, "foot": r.foot_n, "place": r.walked_m, "stop": r.stop_n}
    return fault, prepared, {k: v.astype(np.float32) for k, v in kept.items()}


def plateaus(rpm: np.ndarray) -> list[slice]:
    """Stretches of 4 s or more at one speed above 250 rpm, the first second left out."""
    steady = np.concatenate([[False], (np.abs(np.diff(rpm)) < 1e-3) & (rpm[1:] > 250), [False]])
    edges = np.flatnonzero(np.diff(steady.astype(int)))
    second = int(PANEL_RATE_HZ)
    return [
        slice(a + second, b)
        for a, b in zip(edges[::2], edges[1::2], strict=True)
        if b - a >= 4 * second
    ]


def band_rms(panel: np.ndarray) -> float:
    """Root mean square from 1 to 100 Hz over all axes."""
    spectrum = np.fft.rfft(panel - panel.mean(axis=0), axis=0)
    f = np.fft.rfftfreq(len(panel), 1 / PANEL_RATE_HZ)
    inside = (f >= 1) & (f <= 100)
    return float(np.sqrt(2 * np.sum(np.abs(spectrum[inside]) ** 2)) / len(panel))


def onset_rpm(happens: np.ndarray, rpm: np.ndarray) -> float:
    """Speed at which something first happens for good: the 20th sample of it; NaN for never."""
    at = np.flatnonzero(happens & (rpm > 30))
    return float(rpm[at[19]]) if len(at) > 19 else float("nan")


def onsets(samples: dict[str, np.ndarray], rpm: np.ndarray) -> dict[str, float]:
    """Speeds of lift, slip and blows, rpm."""
    lifted = (samples["foot"][:, :, 2] <= 0.0).any(axis=1)
    moved = np.abs(np.diff(samples["place"], axis=0, prepend=samples["place"][:1])) > 1e-7
    return {
        "lift": onset_rpm(lifted, rpm),
        "slip": onset_rpm(moved.any(axis=(1, 2)), rpm),
        "blows": onset_rpm(samples["stop"] > 0.0, rpm),
    }


def compared(case: Case, result: SpinResult) -> dict:
    """How far one spin is from the processor's: plateaus (share), onsets (rpm both ways)."""
    fault, _, here = case
    rows = min(len(here["stop"]), len(result.t_s))
    there = {
        "panel": result.panel_m_s2, "foot": result.foot_n,
        "place": result.walked_m, "stop": result.stop_n,
    }  # fmt: skip
    rpm = result.drum_rpm[:rows]
    levels = [
        (float(rpm[at.start]), band_rms(here["panel"][at]), band_rms(there["panel"][at]))
        for at in plateaus(rpm)
    ]
    both = [onsets({k: v[:rows] for k, v in s.items()}, rpm) for s in (here, there)]
    return {
        "fault": fault,
        "rows": (len(here["stop"]), len(result.t_s)),
        "levels": levels,
        "apart": [b / a - 1 for _, a, b in levels if a > 0],
        "onsets": {k: (both[0][k], both[1][k]) for k in both[0]},
        "track": float(
            np.sqrt(np.mean((here["panel"][:rows] - there["panel"][:rows]) ** 2))
            / here["panel"][:rows].std(axis=0).max()
        ),
    }


def print_agreement(name: str, rows: list[dict]) -> None:
    """Print how many plateaus and onsets agree."""
    same = np.mean([r["rows"][0] == r["rows"][1] for r in rows])
    apart = np.abs(np.concatenate([row["apart"] for row in rows]))
    print(
        f"{name}: {len(apart)} plateaus, within 1 %: {np.mean(apart < 0.01):.4f}, "
        f"median {np.median(apart):.1e}, 99 % {np.quantile(apart, 0.99):.1e}, "
        f"worst {apart.max():.1e}; same length {same:.3f}"
    )
    for what in ("lift", "slip", "blows"):
        pairs = np.array([row["onsets"][what] for row in rows])
        seen = np.isfinite(pairs)
        both = seen.all(axis=1)
        off = np.abs(pairs[both, 0] / pairs[both, 1] - 1)
        print(
            f"  {what}: in {both.sum()} on both, {(seen.sum(axis=1) == 1).sum()} on one only; "
            f"speed within 1 % in {np.sum(off < 0.01)}, worst {off.max(initial=0):.3f}"
        )
    for fault in sorted({row["fault"] for row in rows}):
        of = np.abs(np.concatenate([r["apart"] for r in rows if r["fault"] == fault]))
        if np.any(of >= 0.01):
            print(f"  {fault}: {np.sum(of >= 0.01)} of {len(of)} plateaus apart")


def agreement(count: int, device: str) -> None:
    """Print what differs by precision, and on the processor alone by a hair on the springs."""
    with ProcessPoolExecutor(os.cpu_count(), get_context("spawn")) as pool:
        cases = list(pool.map(on_processor, range(count)))
        hairs = list(pool.map(on_processor, range(count), [HAIR] * count))
    rows = []
    for case, hair in zip(cases, hairs, strict=True):
        if case and hair:
            samples = spin_result(case[1].outline, hair[2])
            rows.append(compared(case, samples))
    print_agreement(f"processor against itself, springs {HAIR:.0e} stiffer", rows)
    kept = [case for case in cases if case]
    for name, dtype in PRECISIONS.items():
        results = simulate_batch([c[1] for c in kept], device=device, keep=KEPT, dtype=dtype)
        print_agreement(
            name, [compared(case, result) for case, result in zip(kept, results, strict=True)]
        )


def prepared_for_speed(number: int, seconds: float) -> PreparedSpin | None:
    """A drawn machine, climbing to its speed and holding it."""
    _, machine, _ = drawn(number)
    run = run_up(1200.0, seconds) if seconds > 1 else hold(600.0, seconds)
    try:
        return prepare(machine, Run(run, seed=number), PANEL_RATE_HZ)
    except InputError:
        return None


def speed(lanes: list[int], seconds: float, precisions: list[str]) -> None:
    """Print machine-seconds a second, for each number of machines side by side."""
    from counterpoise.dynamics.batch import accelerator

    with ProcessPoolExecutor(os.cpu_count(), get_context("spawn")) as pool:
        spins = [s for s in pool.map(prepared_for_speed, range(300), [seconds] * 300) if s]
    for name in precisions:
        dtype = PRECISIONS[name]
        for count in lanes:
            batch = [spins[i % len(spins)] for i in range(count)]
            packed = stacked(batch, dtype)
            most = max(s.samples for s in batch)
            shapes = {key: (count, most, *each) for key, each in SHAPES.items()}
            shapes["state"] = (count, 0, 36)
            # the first holds the compiler's time
            took = [
                accelerator.run_on_accelerator(packed, shapes, ("panel",), dtype)[2]
                for _ in range(2)
            ]
            machine_s = sum(s.outline.step_s * (s.samples - 1) for s in batch)
            steps = float(sum(s.run.every * (s.samples - 1) for s in batch))
            print(
                f"{name} {count} machines: {machine_s:.0f} machine-s in {took[-1]:.2f} s = "
                f"{machine_s / took[-1]:.0f} a second, {steps / took[-1] / 1e6:.0f} M steps/s "
                f"(first {took[0]:.2f} s)",
                flush=True,
            )


def main() -> None:
    """Run what is asked for."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("what", nargs="+", choices=("agreement", "speed", "one"))
    options.add_argument("--machines", type=int, default=200)
    options.add_argument("--device", default="accelerator")
    options.add_argument("--precision", default="double")
    given = options.parse_args()
    if "agreement" in given.what:
        agreement(given.machines, given.device)
    if "speed" in given.what:
        speed([2112, 8448, 33792], 20.0, ["double", "single"])
    if "one" in given.what:
        speed([given.machines], 0.2, [given.precision])


if __name__ == "__main__":
    main()

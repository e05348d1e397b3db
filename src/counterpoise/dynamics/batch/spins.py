"""Simulate thousands of spins in one call.

    prepared = [prepare(machine, run, 400.0) for machine, run in pairs]
    results = simulate_batch(prepared, device="accelerator")

``device``: "accelerator", "processor" (the same code, one lane after the other), or "auto". Only
the motion of the panel is kept unless more is asked for, as the rest is ten times as much.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from counterpoise.dynamics.batch.lanes import Lanes, Outline, PreparedSpin, stacked
from counterpoise.dynamics.batch.one_lane import run_lane
from counterpoise.dynamics.motion.equilibrium import MotionState, Workspace, new_workspace
from counterpoise.dynamics.motion.pack import RPM, Floats
from counterpoise.dynamics.motion.simulate import Samples, SpinResult
from counterpoise.errors import InputError

DEVICES = ("auto", "accelerator", "processor")
# What a sample of one machine holds, by field of ``Samples``.
SHAPES = {
    "panel": (3,),
    "tub": (2, 3),
    "foot": (4, 3),
    "place": (4, 2),
    "stop": (),
    "drum": (3,),
    "state": (36,),
}


def simulate_batch(
    spins: Sequence[PreparedSpin],
    *,
    device: str = "auto",
    keep: tuple[str, ...] = ("panel",),
    dtype: type = np.float64,
) -> list[SpinResult]:
    """Run all spins; of what is not in ``keep`` (names of ``SHAPES``) a result has no rows.

    Samples are single precision; ``dtype`` is that of the states. Raises InputError where the
    device is not there or a name is none.
    """
    samples, held = run_batch(spins, device=device, keep=keep, dtype=dtype)
    return [
        spin_result(spin.outline, {name: samples[name][i, : held[i]] for name in samples})
        for i, spin in enumerate(spins)
    ]


def run_batch(
    spins: Sequence[PreparedSpin], *, device: str, keep: tuple[str, ...], dtype: type
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """As ``simulate_batch``, plain: samples (n, most samples, ...) by name, how many hold (n,)."""
    if device not in DEVICES:
        raise InputError(
            f"no device {device!r}",
            field="device",
            remedy="take one of: auto, accelerator, processor",
        )
    if unknown := set(keep) - set(SHAPES):
        raise InputError(
            f"no samples of {sorted(unknown)}",
            field="keep",
            remedy="take names of: " + ", ".join(SHAPES),
        )
    lanes, most = stacked(spins, dtype), max(spin.samples for spin in spins)
    shapes = {name: (len(spins), most, *each) for name, each in SHAPES.items()}
    if "state" not in keep:
        # the kernel leaves it out where there are no rows
        shapes["state"] = (len(spins), 0, 36)
    if device != "processor":
        from counterpoise.dynamics.batch import accelerator

        if device == "accelerator" or accelerator.available():
            return accelerator.run_on_accelerator(lanes, shapes, keep, dtype)[:2]
    return _run_here(lanes, shapes, keep, dtype)


def _run_here(
    lanes: Lanes, shapes: dict[str, tuple[int, ...]], keep: tuple[str, ...], dtype: type
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Run the lanes on the processor, one after the other."""
    # All kinds of samples are kept, whatever was asked for: here machines are few.
    arrays: list[Any] = [np.zeros(shapes[name], np.float32) for name in Samples._fields]
    out = Samples(*arrays)
    held = np.zeros(lanes.rows.shape[1], np.int32)
    z = np.zeros
    for m in range(len(held)):
        state = MotionState(z(18, dtype), z(18, dtype), z(16, dtype), z(7), z(5))
        work = Workspace(*(array.astype(dtype) for array in new_workspace()))
        run_lane(lanes, out, held, m, state, work)
    return {name: getattr(out, name) for name in keep}, held


def drum_course(profile: Floats, t_s: Floats) -> tuple[Floats, Floats]:
    """Speed in rad/s and angle in rad at times (n,), of a programme (p, 2) in s and rad/s.

    What ``kernels.drive`` integrates; only where no travel switch can cut the spin.
    """
    at, omega = profile.T
    speed = np.interp(t_s, at, omega)
    turned = np.concatenate([[0.0], np.cumsum(np.diff(at) * (omega[1:] + omega[:-1]) / 2)])
    row = np.clip(np.searchsorted(at, t_s, side="right") - 1, 0, len(at) - 2)
    since = np.clip(t_s - at[row], 0.0, at[row + 1] - at[row])
    angle = turned[row] + since * (omega[row] + speed) / 2
    return speed, angle + np.maximum(t_s - at[-1], 0.0) * omega[-1]


def spin_result(outline: Outline, samples: dict[str, np.ndarray]) -> SpinResult:
    """Samples of one machine in the units of the border, in double precision."""

    def kept(name: str) -> Floats:
        return np.asarray(samples.get(name, np.zeros((0, *SHAPES[name]))), dtype=np.float64)

    rows = len(next(iter(samples.values())))
    t_s = np.arange(rows, dtype=np.float64) * outline.step_s
    speed, angle = drum_course(outline.profile, t_s)
    # the first sample is of the machine at rest
    tub = kept("tub") - kept("tub")[:1]
    return SpinResult(
        t_s=t_s,
        drum_rpm=speed / RPM,
        drum_rad=angle,
        panel_m_s2=kept("panel"),
        tub_m=tub[:, 0],
        tub_centre_m=tub[:, 1],
        foot_n=kept("foot"),
        walked_m=kept("place"),
        stop_n=kept("stop"),
        gave_up=outline.refused,
        complete=rows == outline.samples,
        state=kept("state"),
    )

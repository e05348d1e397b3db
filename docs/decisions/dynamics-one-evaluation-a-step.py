"""Shows the error and the cost of the time steps. Run: python docs/decisions/dynamics-one-evaluation-a-step.py."""

from time import process_time

import numpy as np

from counterpoise.dynamics import Run, build, run_up
from counterpoise.dynamics.motion.pack import pack
from counterpoise.dynamics.motion.simulate import spin


def main() -> None:
    """Print error of the tub's path and computing time for ever finer steps, beside a step of 1/32 of the usual one."""
    machine = build("front_loader").with_unbalance(0.3, 0.7, laundry=False)
    run, par = Run(run_up(1200.0, 10.0)), pack(machine)
    exact = spin(par, machine, run, 100.0, finer=32).tub_centre_m
    for finer in (1, 2, 4, 8):
        start = process_time()
        path = spin(par, machine, run, 100.0, finer=finer).tub_centre_m
        error = 1e6 * float(np.sqrt(np.mean((path - exact) ** 2)))
        print(f"step {0.5 / finer:.3f} ms: {error:.4f} micrometres rms, {process_time() - start:.3f} s")


if __name__ == "__main__":
    main()

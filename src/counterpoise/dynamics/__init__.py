"""The machine as bodies on springs: simulate, respond, walk, strike.

    from counterpoise.dynamics import Run, build, simulate, simulate_many, spin_cycle, with_fault

    run = Run(spin_cycle(1200.0))
    machine = build("front_loader").with_unbalance(0.3)
    sound = simulate(machine, run, sample_rate_hz=200.0)
    sound.t_s, sound.drum_rpm, sound.panel_m_s2      # (n,), (n,), (n, 3)
    both = simulate_many([machine, with_fault(machine, "damper_dead")], run, 200.0)

``panel_m_s2`` is what a phone on the top panel reads, gravity included. ``simulate_many`` takes one
run for all machines, or one for each.
"""

from counterpoise.dynamics.machines.families import FAMILIES, build, draw
from counterpoise.dynamics.machines.faults import FAULTS, with_fault
from counterpoise.dynamics.machines.machine import Load, Machine, Unbalance
from counterpoise.dynamics.motion.run import (
    Controller,
    Phone,
    Run,
    SpinProfile,
    hold,
    run_up,
    spin_cycle,
)
from counterpoise.dynamics.motion.simulate import SpinResult, simulate, simulate_many

__all__ = [
    "FAMILIES",
    "FAULTS",
    "Controller",
    "Load",
    "Machine",
    "Phone",
    "Run",
    "SpinProfile",
    "SpinResult",
    "Unbalance",
    "build",
    "draw",
    "hold",
    "run_up",
    "simulate",
    "simulate_many",
    "spin_cycle",
    "with_fault",
]

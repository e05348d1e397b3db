"""Many machines side by side, in one call: on an accelerator, or on the processor by the same code.

    from counterpoise.dynamics.batch.spins import simulate_batch

Nothing here has forces of its own: each lane runs ``kernels.integration.integrate``, compiled for
the accelerator from the same functions.
"""

"""How the kernels of the moving machine are compiled."""

from typing import Any

from numba import njit

# "contract" lets a product and a sum be rounded once together (a tenth faster); nothing is
# reordered, so that the same input gives the same numbers.
FASTER = {"contract"}
OPTIONS: dict[str, Any] = {
    "cache": True,
    # threads of ``simulate_many`` run beside one another
    "nogil": True,
    "fastmath": FASTER,
    # a division by zero gives infinity as in numpy, without a test at every division
    "error_model": "numpy",
    # Without the run-time for memory the compiler refuses any allocation and counts no
    # references: four times as fast.
    "_nrt": False,
}
jit: Any = njit(**OPTIONS)

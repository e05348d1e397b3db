"""The compiled kernels against the same code run as plain Python."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.reasoning.planning.lookahead import Effort, plan_ahead
from counterpoise.reasoning.problem import compile_model

CASES = [
    (1, Size(3, 2, 3, 2)),
    (2, Size(3, 1, 3, 1, endings=0)),
    (3, Size(2, 2, 2, 2, outcomes=3, independent=True, max_faults=2, misses=True)),
    (4, Size(3, 2, 3, 2, independent=True, max_faults=2, misses=True, shuts=True)),
]
ASK = """
import json
from tests.reasoning.properties.test_plain_python import answers
print(json.dumps(answers()))
"""


def answers():
    """Exact and anytime answers of a few short cases."""
    found = []
    for seed, size in CASES:
        problem = compile_model(draw(np.random.default_rng(seed), size))
        found += [solve_exactly(problem, slots=1 << 12), plan_ahead(problem, Effort(growths=3))]
    return [
        [float(one.lower), float(one.upper), one.first.kind, one.first.id, int(one.states)]
        for one in found
    ]


def test_compiled_and_plain_code_agree():
    # plain Python warns where the hash wraps round; wrapping is what a hash does
    env = os.environ | {
        "NUMBA_DISABLE_JIT": "1",
        "PYTHONPATH": os.pathsep.join(path or "." for path in sys.path),
    }
    run = subprocess.run(
        [sys.executable, "-W", "ignore::RuntimeWarning", "-c", ASK],
        env=env,
        capture_output=True,
        text=True,
        check=True,
    )
    for plain, compiled in zip(json.loads(run.stdout), answers(), strict=True):
        assert plain[2:] == compiled[2:]
        assert plain[:2] == pytest.approx(compiled[:2], abs=1e-9)

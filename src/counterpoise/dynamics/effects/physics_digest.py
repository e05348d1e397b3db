"""Digest of the physics behind the fault table, so that a test says when the table is stale.

Comments, docstrings, sentences and refusals do not count: only what can change a number does.
Machines count by the numbers they are packed to, and motion by its source.
"""

import ast
from functools import cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path

import numpy as np

from counterpoise.dynamics.effects.drawing import drawn, faulty
from counterpoise.dynamics.effects.states import STATES, fault_key
from counterpoise.dynamics.machines.families import FAMILIES
from counterpoise.dynamics.machines.faults import applies
from counterpoise.dynamics.motion.pack import pack

# What moves a machine, and what reads it; checks and the steady response are not asked.
MODULES = (
    "kernels/*.py",
    *(
        f"motion/{name}.py"
        for name in ("equilibrium", "harmonics", "run", "sag", "simulate", "speed_control")
    ),
    "effects/quantities.py",
    "effects/drawing.py",
)
# Drawn machines whose packed numbers stand for all: each load twice.
PACKED = 6
NOTHING = 1e-9


class _Bare(ast.NodeTransformer):
    """Takes out docstrings, sentences, refusals and the digests of kernel files."""

    def visit_Constant(self, node: ast.Constant) -> ast.Constant:
        """A text with a space is for people; a name has none."""
        if isinstance(node.value, str) and " " in node.value:
            return ast.Constant("")
        return node

    def visit_Expr(self, node: ast.Expr) -> ast.AST | None:
        """A docstring is a text that stands alone, of one word or many."""
        if isinstance(node.value, ast.Constant):
            return None
        return self.generic_visit(node)

    def visit_Raise(self, node: ast.Raise) -> ast.AST:
        """What is refused gives no number, however it is said."""
        return ast.copy_location(ast.Pass(), node)

    def visit_Assign(self, node: ast.Assign) -> ast.AST | None:
        """What a kernel file holds of other files counts there already."""
        if isinstance(node.targets[0], ast.Name) and node.targets[0].id == "SOURCE_DIGEST":
            return None
        return self.generic_visit(node)


def bare(source: str) -> str:
    """A module without what only people read."""
    return ast.unparse(_Bare().visit(ast.parse(source)))


def machine_numbers() -> str:
    """The packed numbers of some drawn machines, sound and in every state, to seven digits."""
    lines = []
    for family in FAMILIES:
        for number in range(PACKED):
            case = drawn(family, number)
            states = [state for state in STATES if applies(case.machine, fault_key(state))]
            for machine in (case.machine, *(faulty(case, state) for state in states)):
                packed = np.concatenate([np.ravel(array) for array in pack(machine)])
                # what rounding leaves of a nothing differs from computer to computer
                lines.append(" ".join(f"{x if abs(x) > NOTHING else 0.0:.6e}" for x in packed))
    return "\n".join(lines)


@cache
def physics_digest() -> str:
    """Digest of all that decides a figure of the table, 16 hex digits."""
    here = Path(str(files("counterpoise.dynamics")))
    modules = [module for pattern in MODULES for module in sorted(here.glob(pattern))]
    text = "\n".join(bare(module.read_text("utf-8")) for module in modules)
    return sha256((text + machine_numbers()).encode()).hexdigest()[:16]

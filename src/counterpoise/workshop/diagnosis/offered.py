"""Which checks a plan is made over, where a family knows more than a plan can hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from counterpoise.reasoning.information import mutual_information_bits
from counterpoise.reasoning.problem import MOST_ACTIONS, Problem

# Sets of faults that a check is rated by: the likeliest, as a plan is made over no more of them.
_RATED_SETS = 320


def with_room(problem: Problem) -> Problem:
    """The problem with no more checks than a plan can hold: the least telling are left out.

    A check of a drive that the machine probably does not have, or of faults that are ruled out,
    would be proposed last of all. Where there is room for all, the problem is returned as it is.
    """
    most = MOST_ACTIONS - 1
    if len(problem.checks) <= most:
        return problem
    likely = np.argsort(-problem.prior, kind="stable")[:_RATED_SETS]
    belief = problem.prior[likely] / problem.prior[likely].sum()
    telling = [mutual_information_bits(table[:, likely], belief) for table in problem.tables]
    # stable: of checks that tell alike the earlier in the catalog stays
    kept = sorted(sorted(range(len(telling)), key=lambda i: -telling[i])[:most])
    return replace(
        problem,
        checks=tuple(problem.checks[i] for i in kept),
        tables=tuple(problem.tables[i] for i in kept),
    )

"""How much likelier two spins are if the repair held than if it did not.

Levels do not decide: of one machine they differ up to twenty times with how the load lies. What is
compared is what each recording says of the causes. If the repair held, the second is of a machine
in order; if not, the fault that the first points to is still there, or the repair left another. So
a machine whose fault a recording cannot show has odds near 1 whatever it does, and no proof.
"""

import numpy as np

from counterpoise.spin.causes.alarm_bound import PRIOR_OF, SOUND
from counterpoise.spin.causes.groups import FAULTS_OF, GROUPS
from counterpoise.spin.recording import Floats

# Faults alone, each as likely as any other: a machine came in with something.
BROUGHT_IN = np.array([len(set(FAULTS_OF[group]) - {"sound"}) for group in GROUPS], dtype=float)
BROUGHT_IN /= BROUGHT_IN.sum()
# What a repair can leave behind: a foot not locked, a weight not tightened, a spring not hooked in,
# a damper's pin left out, a bearing pressed in askew (estimate: all alike).
LEFT_BEHIND = np.zeros(len(GROUPS))
for _group, _share in (("short_foot", 1), ("rattle", 2), ("spring_off", 1), ("dampers", 1)):
    LEFT_BEHIND[GROUPS.index(_group)] = _share / 5
# Of repairs that did not hold: the fault stayed in two of three (estimate).
STAYED = 2 / 3


def repair_log_odds(before: Floats, after: Floats) -> float:
    """Natural logarithm of the odds that the repair held, if it were as likely as not.

    ``before`` and ``after`` (9,): probabilities of GROUPS under equal faults, as verdicts have.
    """
    says_before, says_after = before / PRIOR_OF, after / PRIOR_OF
    fault = BROUGHT_IN * says_before
    stayed = float(fault @ says_after / fault.sum())
    spoiled = float(LEFT_BEHIND @ says_after)
    failed = STAYED * stayed + (1 - STAYED) * spoiled
    return float(np.log(says_after[SOUND] / failed))

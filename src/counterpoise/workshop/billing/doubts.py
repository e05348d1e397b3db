"""What the doubt about a repair is about: the cause, the repair itself, or another fault beside it.

A cause that is 97 % sure and a cure of 97 % can leave a machine right 6 times in 10 only: the rest
is what else may be wrong with a machine that comes in, and this work does not touch.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from counterpoise.catalog.family import RepairEntry
from counterpoise.money.quote_case import Doubts
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.billing.work import COVERED
from counterpoise.workshop.diagnosis.replay import Situation


def doubts_of(situation: Situation, work: Sequence[RepairEntry], by_kind: Floats) -> Doubts:
    """The chances of each doubt; with the chance that the work leaves no fault they sum to 1.

    ``by_kind`` (K, S): chance that the work leaves no fault, by kind and set of faults. A fault is
    aimed at where one of the repairs cures it at least as often as not.
    """
    hypotheses, joint = situation.model.hypotheses, situation.joint
    aimed = {
        column
        for column, key in enumerate(hypotheses.fault_ids)
        if any(entry.cures.get(key, 0.0) >= COVERED for entry in work)
    }
    # (S,) the set with nothing but what is aimed at: what this work makes of that alone
    alone = np.array(
        [hypotheses.index[tuple(f for f in faults if f in aimed)] for faults in hypotheses.sets]
    )
    held = by_kind[:, alone]
    hit = np.array([bool(aimed & set(faults)) for faults in hypotheses.sets])
    left = joint * (1.0 - by_kind)
    return Doubts(
        cause=float(left[:, ~hit].sum()),
        repair=float((joint * (1.0 - held))[:, hit].sum()),
        # what is cured is no less likely alone than beside others, but for rounding
        beside=float(max(0.0, (joint * (held - by_kind))[:, hit].sum())),
    )

"""Small invented machines of two features, and the belief in them by plain enumeration.

Written from the meaning of a family file alone: no arrays, nothing of the program's own reckoning
but the odds of single faults.
"""

from dataclasses import replace
from itertools import combinations, product

from tests.reasoning.judges.brute_force import outcome_chances
from tests.workshop.small import FAMILY as SMALL

from counterpoise.catalog.family import CheckEntry, FaultEntry, Feature, RepairEntry
from counterpoise.catalog.priors import independent_priors
from counterpoise.workshop.diagnosis.family_model import MISREADING
from counterpoise.workshop.diagnosis.kinds.kinds import MISTAKEN, WRONG_AT_INTAKE
from counterpoise.workshop.jobs.entries import NOT_THERE, Finding, RepairDone

_INVENTED = "invented"


def _fault(name, prior, needs=None):
    return FaultEntry(
        name, name, name, "drum", prior, _INVENTED, complaints={name: {"shakes": 0.4 + prior}},
        needs=needs or {},
    )  # fmt: skip


def _check(name, under, needs=None, **more):
    return CheckEntry(
        name, name, "look", 1.0, ("Look.",), "What?", {"fine": "fine", "odd": "odd", "bad": "bad"},
        under, {"odd": 0.05, "bad": 0.02}, _INVENTED, needs=needs or {}, **more,
    )  # fmt: skip


def _tells(feature, values, error):
    return CheckEntry(
        f"look_{feature}", f"Look at the {feature}", "look", 1.0, ("Look.",), "Which?",
        {value: value for value in values}, {}, {}, _INVENTED, tells=feature, error=error,
    )  # fmt: skip


FAMILY = replace(
    SMALL,
    id="two_features",
    features={
        "drive": Feature("drive", "Drive?", {"direct": "d", "belt": "b"}, {"direct": 0.4, "belt": 0.6}, _INVENTED),
        "tub": Feature(
            "tub", "Tub?", {"bolted": "b", "welded": "w", "steel": "s"},
            {"bolted": 0.5, "welded": 0.3, "steel": 0.2}, _INVENTED,
        ),
    },
    faults={
        "bearing": _fault("bearing", 0.2),
        "belt": _fault("belt", 0.15, {"drive": "belt"}),
        "rotor": _fault("rotor", 0.1, {"drive": "direct"}),
        "seam": _fault("seam", 0.05, {"tub": "welded"}),
    },
    checks={
        "turn": _check("turn", {"bearing": {"odd": 0.3, "bad": 0.6}, "rotor": {"odd": 0.4}}),
        "see_belt": _check("see_belt", {"belt": {"odd": 0.2, "bad": 0.7}}, {"drive": "belt"}),
        "see_seam": _check("see_seam", {"seam": {"bad": 0.9}, "bearing": {"odd": 0.3}}, {"tub": "welded"}),
        "look_drive": _tells("drive", ("direct", "belt"), 0.08),
        "look_tub": _tells("tub", ("bolted", "welded", "steel"), 0.03),
    },
    repairs={
        "new_bearing": RepairEntry(
            "new_bearing", "New bearing", 60, ("Do it.",), {"bearing": 0.9}, _INVENTED, needs={"tub": "bolted"}
        ),
        "new_tub": RepairEntry("new_tub", "New tub", 90, ("Do it.",), {"bearing": 0.95, "seam": 0.97}, _INVENTED),
        "new_belt": RepairEntry("new_belt", "New belt", 10, ("Do it.",), {"belt": 0.96}, _INVENTED, needs={"drive": "belt"}),
    },
)  # fmt: skip


def enumerated(family, age, job, *, most=3):
    """{(kind, faults): probability} of a job's findings and repairs, one after the other."""
    intake = job.intake
    belief = {}
    for machine, share in _machines(family, intake.features, _doubted(family, job)):
        for faults, chance in _sets(family, age, machine, most).items():
            belief[machine, faults] = share * chance
    belief = _weighed(belief, lambda _, faults: _heard(family, intake, faults))
    for entry in job.entries[1:]:
        if isinstance(entry.body, Finding):
            belief = _weighed(belief, lambda m, f, b=entry.body: _shown(family, m, f, b))
        elif isinstance(entry.body, RepairDone):
            belief = _mended(family, belief, family.repairs[entry.body.repair])
    return belief


def _machines(family, given, doubted):
    features = list(family.features.values())
    found = {}
    for values in product(*(feature.values for feature in features)):
        machine, share = tuple(zip(family.features, values, strict=True)), 1.0
        for feature, value in zip(features, values, strict=True):
            if any(dict(machine)[other] != wanted for other, wanted in feature.needs.items()):
                share *= float(value == feature.others)
            elif feature.id not in given:
                share *= feature.share[value]
            elif feature.id in doubted:
                right = value == given[feature.id]
                wrong = WRONG_AT_INTAKE / (len(feature.values) - 1)
                share *= feature.share[value] * (1.0 - WRONG_AT_INTAKE if right else wrong)
            if feature.id in given and feature.id not in doubted:
                share *= float(value == given[feature.id])
        found[machine] = share
    total = sum(found.values())
    return [(machine, share / total) for machine, share in found.items() if share > 0.0]


def _doubted(family, job):
    doubted = set()
    for entry in job.entries[1:]:
        if isinstance(entry.body, Finding):
            check, said = family.checks[entry.body.check], entry.body.outcome
            for feature, value in job.intake.features.items():
                if check.tells == feature and said != value:
                    doubted.add(feature)
                needed = check.needs.get(feature)
                if needed is not None and (needed == value) == (said == NOT_THERE):
                    doubted.add(feature)
    return doubted


def _sets(family, age, machine, most):
    priors = independent_priors(family, age_years=age, features=dict(machine))
    keys = [(fault, key) for fault in family.faults.values() for key in fault.keys]
    weights = {}
    for size in range(1, most + 1):
        for chosen in combinations(keys, size):
            owners = [fault.id for fault, _ in chosen]
            if len(set(owners)) < size or (size > 1 and any(fault.alone for fault, _ in chosen)):
                continue
            weight = 1.0
            for _, key in chosen:
                chance = priors.get(key, 0.0)
                weight *= chance / (1.0 - chance)
            if weight > 0.0:
                weights[frozenset(key for _, key in chosen)] = weight
    total = sum(weights.values())
    return {faults: weight / total for faults, weight in weights.items()}


def _heard(family, intake, faults):
    chance = 1.0
    for name, complaint in family.complaints.items():
        silent = 1.0 - complaint.leak
        for key in faults:
            by_key = family.faults[key.partition(":")[0]].complaints
            silent *= 1.0 - by_key.get(key, {}).get(name, 0.0)
        if name in intake.complaints:
            chance *= 1.0 - silent
        elif intake.complaints:
            chance *= silent**0.5
    return chance


def _shown(family, machine, faults, finding):
    check, said = family.checks[finding.check], finding.outcome
    outcomes = list(check.outcomes)
    fits = all(dict(machine)[name] == value for name, value in check.needs.items())
    if check.tells:
        right = dict(machine)[check.tells] == said
        return 1.0 - check.error if right else check.error / (len(outcomes) - 1)
    if said == NOT_THERE:
        return MISTAKEN if fits else 1.0 - MISTAKEN
    if not fits:
        return MISTAKEN / len(outcomes)
    # the judge's own way from causes to the worst outcome
    plain = outcome_chances(_Named(check, outcomes), faults)[outcomes.index(said)]
    read = (1.0 - MISREADING) * plain + MISREADING / len(outcomes)
    return (1.0 - MISTAKEN) * read if check.needs else read


class _Named:
    """A check of a family as the judge reads one."""

    def __init__(self, check, outcomes):
        self.outcomes, self.under, self.otherwise = outcomes, check.under, check.otherwise
        self.exclusive, self.unordered = check.exclusive, check.unordered


def _weighed(belief, chance):
    joint = {key: weight * chance(*key) for key, weight in belief.items()}
    total = sum(joint.values())
    return {key: weight / total for key, weight in joint.items()}


def _mended(family, belief, repair):
    after = {}
    for (machine, faults), before in belief.items():
        fits = all(dict(machine)[name] == value for name, value in repair.needs.items())
        weight = before * (1.0 - MISTAKEN if fits else MISTAKEN)
        touched = [key for key in faults if fits and repair.cures.get(key, 0.0) > 0.0]
        for flags in product((True, False), repeat=len(touched)):
            chance, left = weight, set(faults)
            for key, cured in zip(touched, flags, strict=True):
                chance *= repair.cures[key] if cured else 1.0 - repair.cures[key]
                if cured:
                    left.discard(key)
            where = machine, frozenset(left)
            after[where] = after.get(where, 0.0) + chance
    total = sum(after.values())
    return {key: weight / total for key, weight in after.items()}

"""The belief over kinds of machines and sets of faults, by plain enumeration.

Written from the meaning of a family file alone: no arrays, nothing of the program's own reckoning
but the odds of single faults.
"""

from itertools import combinations, pairwise, product
from math import erf, sqrt

from tests.reasoning.judges.brute_force import outcome_chances

from counterpoise.catalog.priors import independent_priors
from counterpoise.workshop.diagnosis.family_model import ANY_SLIP, MISREADING
from counterpoise.workshop.diagnosis.kinds.kinds import MISTAKEN, WRONG_AT_INTAKE
from counterpoise.workshop.jobs.entries import NOT_THERE, Finding, RepairDone

# by identity: the same is asked for thousands of times
_KNOWN = {}


def enumerated(family, age, job, *, most=3):
    """{(kind, faults): probability} of a job's findings and repairs, one after the other."""
    intake, doubted = job.intake, _doubted(family, job)
    belief = {}
    for machine, share in _machines(family, intake.features, doubted):
        for faults, chance in _sets(family, age, machine, most).items():
            belief[machine, faults] = share * chance
    elsewhere = _elsewhere(family, most)
    heard = {faults: _heard(family, intake, faults) for faults in elsewhere}
    findings = []
    for entry in job.entries[1:]:
        if isinstance(entry.body, Finding):
            findings.append(entry.body)
        elif isinstance(entry.body, RepairDone):
            belief = _with_findings(family, belief, findings, heard, elsewhere)
            belief = _mended(family, belief, family.repairs[entry.body.repair])
            # what was found and told before speaks of the machine as it was
            findings, heard = [], None
    return _with_findings(family, belief, findings, heard, elsewhere)


def _elsewhere(family, most):
    """A machine of which nothing is known: by whose findings one may be led astray."""
    chances = {frozenset(): 0.0}
    for machine, share in _machines(family, {}, set()):
        for faults, chance in _sets(family, None, machine, most).items():
            chances[faults] = chances.get(faults, 0.0) + share * chance
    return chances


def _with_findings(family, belief, findings, heard, elsewhere):
    things = [
        (thing.misled, [f for f in findings if f.check in thing.checks], thing.complaints)
        for thing in family.same_thing.values()
    ]
    grouped = {f.check for _, of_thing, _ in things for f in of_thing}
    things += [(0.0, [f], False) for f in findings if f.check not in grouped]
    if not any(with_complaint for _, _, with_complaint in things):
        things.append((0.0, [], True))
    machines = {machine for machine, _ in belief}
    for misled, of_thing, with_complaint in things:
        of_faults = [f for f in of_thing if not _of_kind_alone(family, f)]
        heard_here = heard if with_complaint else None
        if of_faults or heard_here:
            belief = _weighed(
                belief,
                _led_astray(family, machines, misled, (of_faults, heard_here), elsewhere),
            )
        for finding in of_thing:
            if _of_kind_alone(family, finding):
                belief = _weighed(belief, lambda m, f, b=finding: shown(family, m, f, b))
    return belief


def _of_kind_alone(family, finding):
    return bool(family.checks[finding.check].tells) or finding.outcome == NOT_THERE


def _led_astray(family, machines, misled, found, elsewhere):
    """The chance of findings that one thing may mislead: then they are those of some machine."""
    findings, heard = found

    def straight(machine, faults):
        chance = 1.0 if heard is None else heard[faults]
        for finding in findings:
            chance *= shown(family, machine, faults, finding)
        return chance

    by_machine = {
        machine: sum(p * straight(machine, faults) for faults, p in elsewhere.items())
        if misled
        else 0.0
        for machine in machines
    }
    return lambda m, f: (1.0 - misled) * straight(m, f) + misled * by_machine[m]


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
            weight *= _company(family, {key for _, key in chosen})
            if weight > 0.0:
                weights[frozenset(key for _, key in chosen)] = weight
    total = sum(weights.values())
    return {faults: weight / total for faults, weight in weights.items()}


def _company(family, faults):
    """By how much likelier faults are together that bring each other."""
    factor = 1.0
    for one, other, times in _pairs(family):
        usual = _usual(family)
        factor *= times if one in faults and other in faults else 1.0
        # what they gain together they lose alone
        factor /= 1.0 + (times - 1.0) * usual.get(other, 0.0) if one in faults else 1.0
        factor /= 1.0 + (times - 1.0) * usual.get(one, 0.0) if other in faults else 1.0
    return factor


def _pairs(family):
    if id(family) not in _KNOWN:
        pairs = {
            (one, other): times
            for fault in family.faults.values()
            for name, times in fault.brings.items()
            for one in fault.keys
            for other in family.faults[name].keys
        }
        _KNOWN[id(family)] = family, [(*pair, times) for pair, times in pairs.items()]
    return _KNOWN[id(family)][1]


def _usual(family):
    key = id(family), "usual"
    if key not in _KNOWN:
        _KNOWN[key] = independent_priors(family)
    return _KNOWN[key]


def _heard(family, intake, faults):
    chance = 1.0
    kin = {family.complaints[name].kin for name in intake.complaints} - {""}
    for name, complaint in family.complaints.items():
        silent = 1.0 - complaint.leak
        for key in faults:
            by_key = family.faults[key.partition(":")[0]].complaints
            silent *= 1.0 - by_key.get(key, {}).get(name, 0.0)
        if name in intake.complaints:
            chance *= 1.0 - silent
        # who names one noise has not denied another
        elif intake.complaints and complaint.kin not in kin:
            chance *= silent**0.5
    return chance


def shown(family, machine, faults, finding):
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
    plain = _plain(check, frozenset(faults & check.under.keys()))
    slip = MISREADING if check.slip is None else check.slip
    read = sum(
        weight * ((1.0 - slip) * chance + slip * put_down)
        for weight, chance, put_down in zip(
            _weights(check, finding), plain, slipped_into(family, check), strict=True
        )
    )
    return (1.0 - MISTAKEN) * read if check.needs else read


def slipped_into(family, check):
    """What a slip puts down: mostly what the check shows on some other machine, or anything."""
    key = id(family), id(check), "slips"
    if key not in _KNOWN:
        usual = [0.0] * len(check.outcomes)
        for faults, weight in _anything(family).items():
            row = _plain(check, frozenset(faults & check.under.keys()))
            usual = [u + weight * chance for u, chance in zip(usual, row, strict=True)]
        spread = [(1.0 - ANY_SLIP) * u + ANY_SLIP / len(usual) for u in usual]
        _KNOWN[key] = family, check, spread
    return _KNOWN[key][-1]


def _anything(family):
    key = id(family), "anything"
    if key not in _KNOWN:
        _KNOWN[key] = family, _elsewhere(family, 3)
    return _KNOWN[key][1]


def _weights(check, finding):
    """How well each outcome fits: the whole of one, or a number with its error across several."""
    if finding.reading is None:
        return [float(outcome == finding.outcome) for outcome in check.outcomes]
    reading = check.reading
    sd = finding.reading_sd or reading.sd
    below = [0.0, *(normal_below((edge - finding.reading) / sd) for edge in reading.edges), 1.0]
    parts = [high - low for low, high in pairwise(below)]
    return parts[::-1] if reading.falling else parts


def normal_below(z):
    return 0.5 * (1.0 + erf(z / sqrt(2.0)))


def _plain(check, named):
    key = id(check), named
    if key not in _KNOWN:
        # the judge's own way from causes to what is seen; the check is kept, so that its id is
        _KNOWN[key] = check, outcome_chances(_Named(check, list(check.outcomes)), named)
    return _KNOWN[key][1]


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

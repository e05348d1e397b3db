"""The abstract model that is reasoned about: faults, access, checks, repairs, retest, endings.

Costs and values share one unit (money, minutes, anything additive). Nothing here knows what a
machine is.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from counterpoise.errors import ModelError

if TYPE_CHECKING:
    from collections.abc import Mapping

PriorKind = Literal["exactly_one", "independent"]
SUM_TOLERANCE = 1e-9  # figures written with few digits sum to one only to rounding


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault with its prior probability.

    At most one fault of a ``group`` is present (the grades of one worn thing); a fault that is
    ``alone`` is never there together with another ("nothing is wrong but the load").
    """

    id: str
    prior: float
    group: str | None = None
    alone: bool = False


@dataclass(frozen=True, slots=True)
class Access:
    """A panel or position; closing is paid with the opening, ``behind`` is opened first.

    It stays open until a check or a retest shuts the panels.
    """

    id: str
    open: float = 0.0
    close: float = 0.0
    behind: str | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """A check with ordered outcomes, mildest first; done at most once.

    ``under[f][o]`` is the probability of outcome ``o`` when fault ``f`` is there, ``otherwise[o]``
    that of the leak, one more independent cause (Díez's convention); what is left over goes to the
    first outcome. Several causes give the worst of their outcomes (noisy-MAX). With ``exclusive`` a
    named fault's row holds alone, and the leak only where no named fault is present. With
    ``unordered`` no outcome is worse than another: the answer speaks of one of the named faults
    present, of each as often. ``shuts``: every panel that stands open is closed for it, like those
    of a machine for a spin. ``runs``: it waits while a hazard may be there.
    """

    id: str
    cost: float
    outcomes: tuple[str, ...]
    under: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    otherwise: Mapping[str, float] = field(default_factory=dict)
    access: str | None = None
    exclusive: bool = False
    unordered: bool = False
    shuts: bool = False
    runs: bool = False


@dataclass(frozen=True, slots=True)
class Repair:
    """A repair that cures each fault in ``cures`` with that probability; tried at most once.

    ``runs``: it waits while a hazard may be there, whatever it cures.
    """

    id: str
    cost: float
    cures: Mapping[str, float]
    access: str | None = None
    runs: bool = False


@dataclass(frozen=True, slots=True)
class Retest:
    """Paid after every repair, to prove it.

    A remaining fault passes unseen with probability ``misses``; then it costs ``comeback``.
    ``shuts``: every panel is closed for it, so who goes on after a failed one opens anew.
    """

    cost: float = 0.0
    misses: float = 0.0
    comeback: float = 0.0
    shuts: bool = False


@dataclass(frozen=True, slots=True)
class Ending:
    """A way to stop, worth ``base`` plus ``per_fault`` summed over the faults present."""

    id: str
    base: float = 0.0
    per_fault: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Model:
    """The whole problem; raises ModelError where it cannot be solved as written.

    ``nothing_wrong`` admits the empty set of faults under the independent prior.
    """

    faults: tuple[Fault, ...]
    prior: PriorKind = "exactly_one"
    max_faults: int = 3
    nothing_wrong: bool = False
    access: tuple[Access, ...] = ()
    checks: tuple[Check, ...] = ()
    repairs: tuple[Repair, ...] = ()
    retest: Retest = field(default_factory=Retest)
    working: float = 0.0
    endings: tuple[Ending, ...] = ()

    def __post_init__(self) -> None:
        problems = validate(self)
        if problems:
            raise ModelError("The model cannot be solved as written: " + "; ".join(problems))


def validate(model: Model) -> list[str]:
    """Everything wrong with a model, in plain words; empty when it can be solved."""
    fault_ids = {fault.id for fault in model.faults}
    return [
        *_prior_problems(model),
        *_access_problems(model),
        *(problem for check in model.checks for problem in _check_problems(check, fault_ids)),
        *(problem for repair in model.repairs for problem in _repair_problems(repair, fault_ids)),
        *_retest_problems(model.retest),
        *(
            f"ending {ending.id}: fault {name} is not in faults"
            for ending in model.endings
            for name in ending.per_fault
            if name not in fault_ids
        ),
        *_duplicates(model),
    ]


def _prior_problems(model: Model) -> list[str]:
    problems = [
        f"fault {f.id}: prior {f.prior:g} is not between 0 and 1"
        for f in model.faults
        if not 0 <= f.prior <= 1
    ]
    if not model.faults:
        problems.append("there is no fault: give at least one")
    # written so that a sum that is not a number is refused as well, as in all tests below
    elif not sum(fault.prior for fault in model.faults) > 0:
        problems.append("every prior is zero: give at least one fault a chance")
    # a certain fault has infinite odds: only alone is that a belief
    if (
        model.prior == "independent"
        and any(fault.prior >= 1 for fault in model.faults)
        and len(model.faults) > 1
    ):
        problems.append(
            "a prior of 1 among independent faults: leave the certain fault out or lower it"
        )
    if model.max_faults < 1:
        problems.append(f"max_faults is {model.max_faults}: it must be 1 or more")
    return problems


def _access_problems(model: Model) -> list[str]:
    behind = {access.id: access.behind for access in model.access}
    problems = [
        f"access {a.id}: behind {a.behind} is not in access"
        for a in model.access
        if a.behind not in {None, *behind}
    ]
    problems += [
        f"access {a.id}: the cost to {verb} is {cost:g}: it must not be negative"
        for a in model.access
        for verb, cost in (("open", a.open), ("close", a.close))
        if not cost >= 0
    ]
    for start in behind:
        # a walk outwards ends at an outermost panel, or comes back to where it was
        visited: set[str] = set()
        here: str | None = start
        while here is not None and here not in visited:
            visited.add(here)
            here = behind.get(here)
        if here is not None:
            problems.append(f"access {start}: it lies behind itself")
    places: list[Check | Repair] = [*model.checks, *model.repairs]
    for item in places:
        if item.access is not None and item.access not in behind:
            problems.append(f"{item.id}: access {item.access} is not in access")
    return problems


def _check_problems(check: Check, fault_ids: set[str]) -> list[str]:
    where = f"check {check.id}"
    problems = [] if check.cost >= 0 else [f"{where}: cost {check.cost:g} must not be negative"]
    if len(check.outcomes) < 2:
        problems.append(f"{where}: it needs two outcomes or more")
    if len(set(check.outcomes)) != len(check.outcomes):
        problems.append(f"{where}: an outcome is named twice")
    # the leak is a row like the others, with a label of its own
    rows = [(f"under {name}", row) for name, row in check.under.items()] + [
        ("otherwise", check.otherwise)
    ]
    for label, row in rows:
        problems += [
            f"{where}, {label}: outcome {name} is not in outcomes"
            for name in row
            if name not in check.outcomes
        ]
        problems += [
            f"{where}, {label}: chance {p:g} is not between 0 and 1"
            for p in row.values()
            if not 0 <= p <= 1
        ]
        total = sum(row.values())
        # less than one is no mistake: what is left over is the first outcome's
        if total > 1 + SUM_TOLERANCE:
            problems.append(f"{where}, {label}: the chances sum to {total:g}, more than 1")
        elif set(row) == set(check.outcomes) and abs(total - 1) > SUM_TOLERANCE:
            problems.append(
                f"{where}, {label}: all outcomes are named but their chances sum to {total:g}, "
                "not 1"
            )
    problems += [
        f"{where}: fault {name} is not in faults" for name in check.under if name not in fault_ids
    ]
    return problems


def _repair_problems(repair: Repair, fault_ids: set[str]) -> list[str]:
    problems = (
        []
        if repair.cost >= 0
        else [f"repair {repair.id}: cost {repair.cost:g} must not be negative"]
    )
    problems += [
        f"repair {repair.id}: fault {name} is not in faults"
        for name in repair.cures
        if name not in fault_ids
    ]
    problems += [
        f"repair {repair.id}: chance {p:g} to cure {name} is not between 0 and 1"
        for name, p in repair.cures.items()
        if not 0 <= p <= 1
    ]
    return problems


def _retest_problems(retest: Retest) -> list[str]:
    problems = (
        []
        if 0 <= retest.misses < 1
        else [f"retest: misses {retest.misses:g} must be 0 or more and below 1"]
    )
    for label, cost in (("cost", retest.cost), ("comeback", retest.comeback)):
        if not cost >= 0:
            problems.append(f"retest: {label} {cost:g} must not be negative")
    return problems


def _duplicates(model: Model) -> list[str]:
    # a name given twice would silently stand for the later entry
    problems = []
    for kind, ids in (
        ("fault", [item.id for item in model.faults]),
        ("access", [item.id for item in model.access]),
        ("check", [item.id for item in model.checks]),
        ("repair", [item.id for item in model.repairs]),
        ("ending", [item.id for item in model.endings]),
    ):
        names = sorted(ids)
        problems += [f"{kind} {a} is given twice" for a, b in pairwise(names) if a == b]
    return problems

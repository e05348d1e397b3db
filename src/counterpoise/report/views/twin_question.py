"""A what-if of the machine in motion: read from what was typed, and from what a job knows."""

from __future__ import annotations

from collections.abc import Mapping

from counterpoise.catalog.family import Family, FaultEntry
from counterpoise.dynamics.answers.what_if import WhatIf, shown_kg
from counterpoise.dynamics.effects.states import fault_key
from counterpoise.dynamics.machines.families import FAMILIES, allowed, build, family
from counterpoise.dynamics.machines.faults import FAULTS, applies
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.machines.value import Value
from counterpoise.dynamics.motion.run import Phone
from counterpoise.errors import InputError
from counterpoise.report.views.job import JobView
from counterpoise.report.views.machine_figures import NOTHING, OwnMachine
from counterpoise.report.words.machine_figures import VALUE_WORDS
from counterpoise.report.words.numbers import read_number
from counterpoise.workshop.diagnosis.assessment import Suspect
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.in_motion import a_kind, has_model, no_model
from counterpoise.workshop.jobs.machine_features import known_features
from counterpoise.workshop.services.workshop import Workshop

# the figures tell four lines apart: the sound machine and three faults
MOST_FAULTS = 3
# kg, kg, 0 hub to 1 opening, rpm, m, m. A speed is let through: the model itself refuses one that
# no machine reaches, with the reason.
LIMITS = {
    "unbalance": (0.0, 5.0), "load": (0.0, 20.0), "depth": (0.0, 1.0), "top_rpm": (-1e6, 1e6),
    "point_x": (-0.3, 0.3), "point_y": (-0.3, 0.3),
}  # fmt: skip
_FARTHEST = 1e12  # further than any figure of a machine; stiffnesses are the largest
KINDS = tuple((key, kind.title) for key, kind in FAMILIES.items())


def read_question(
    key: str, texts: Mapping[str, str], faults: tuple[str, ...], own: OwnMachine = NOTHING
) -> WhatIf:
    """Read what was typed; an empty field means what the job holds, else the family's own figure.

    ``key`` is the model's kind, ``texts`` are by name. Raises InputError naming the field.
    """
    _check_names(key, texts)
    if len(faults) > MOST_FAULTS:
        raise InputError(
            f"{len(faults)} faults side by side are too many",
            field="fault",
            remedy=f"Pick up to {MOST_FAULTS}.",
        )
    # a page sends every box; an empty one was not filled in
    given = {name: text for name, text in texts.items() if text.strip()}
    of_the_spin = {
        name: read_number(given[name], name, *LIMITS[name]) for name in LIMITS if name in given
    }
    of_the_machine = {
        name: read_value(name, given[name], value)
        for name, value in family(key).values.items()
        if name in given
    }
    usual = WhatIf()
    values = own.values(key, of_the_machine) | of_the_machine
    return WhatIf(
        key,
        # what is typed goes before what the job holds
        tuple(values.items()),
        top_rpm=of_the_spin.get("top_rpm", own.top_rpm),
        load_kg=of_the_spin.get("load", usual.load_kg),
        # the load that shows what is asked, unless a load is
        unbalance_kg=of_the_spin.get("unbalance", shown_kg(key, values, faults)),
        depth=of_the_spin.get("depth", usual.depth),
        # the same fault twice is the same machine twice
        faults=tuple(dict.fromkeys(faults)),
        phone=Phone(of_the_spin.get("point_x", 0.0), of_the_spin.get("point_y", 0.0)),
    )


def _check_names(key: str, texts: Mapping[str, str]) -> None:
    """Raise InputError for a figure that this kind of machine does not have."""
    known = family(key).values
    unknown = sorted(name for name in texts if name not in LIMITS and name not in known)
    if unknown:
        raise InputError(
            f"{unknown[0]} is no figure of this kind of machine",
            field=unknown[0],
            remedy=f"One of {', '.join(known)}.",
        )


def read_value(name: str, text: str, value: Value) -> float:
    """A family value as typed, in SI; pieces come whole. Raises InputError naming the field."""
    # which numbers a machine can have is the model's to say; here only that it is one
    number = read_number(text, name, -_FARTHEST, _FARTHEST)
    return allowed(name, value, number, VALUE_WORDS[name])


def suspected_faults(view: JobView, key: str) -> dict[str, tuple[str, ...]]:
    """States of the model that the leading suspects amount to, with the suspects' names.

    A suspect with grades counts as its likeliest one. Likeliest first, at most
    :data:`MOST_FAULTS`; empty where no suspect has a mechanical meaning.
    """
    machine = build(key)
    titles: dict[str, tuple[str, ...]] = {}
    for suspect in view.assessment.suspects:
        entry = view.family.faults.get(suspect.fault)
        state = entry.twin_of(_likeliest(suspect, entry)) if entry else None
        if state and can_have(machine, state):
            # several faults of the catalog can look alike to the model: a damper or its mount
            titles[state] = (*titles.get(state, ()), suspect.title)
    return dict(list(titles.items())[:MOST_FAULTS])


def _likeliest(suspect: Suspect, entry: FaultEntry) -> str:
    """The key of the suspect's likeliest grade, or of the fault where it has none."""
    if not suspect.grades:
        return entry.id
    title = max(suspect.grades, key=lambda grade: grade[1])[0]
    return next((f"{entry.id}:{g.id}" for g in entry.grades if g.title == title), entry.id)


def can_have(machine: Machine, state: str) -> bool:
    """Whether a machine can be in a state written KEY[:SEVERITY[:PART]]."""
    key = fault_key(state)
    return key in FAULTS and applies(machine, key)


def model_kind(view: JobView) -> str:
    """The model's kind for a job's machine. Raises InputError where there is none."""
    return model_kind_of(view.job, view.family)


def model_kind_of(job: Job, family: Family) -> str:
    """The model's kind for a job's machine. Raises InputError, with the reason, without one."""
    refuse_without_model(family, known_features(family, job))
    return family.id


def refuse_without_model(family: Family, has: Mapping[str, str] | None = None) -> None:
    """Raise InputError, with the reason, where there is no model of a machine of such features."""
    why = no_model(family, has)
    if why and has_model(family):
        raise InputError(
            why,
            field="features",
            remedy="Go back to the bench; if it is down wrong, correct the intake.",
        )
    if why:
        kinds = " and of ".join(a_kind(kind.title) for kind in FAMILIES.values())
        raise InputError(why, field="family", remedy=f"There is one of {kinds}.")


def kind_asked(workshop: Workshop, key: str = "") -> str:
    """The model's kind that was asked for by name, the first there is where none was.

    Raises InputError where there is no model of the kind, or no such kind.
    """
    if key and key not in FAMILIES:
        # a kind that the workshop knows is told apart from a slip of the pen
        refuse_without_model(workshop.family(key))
    return key or next(iter(FAMILIES))


def assumptions(view: JobView) -> str:
    """What had to be assumed of the machine, in a sentence; empty where enough is known."""
    known, features = known_features(view.family, view.job), view.family.features
    assumed = "; ".join(
        f"{features[name].title} {features[name].values[value]}"
        for name, value in view.family.twin_needs.items()
        if name not in known
    )
    if not assumed:
        return ""
    return f"Not known, so taken for granted: {assumed}. Of the other sort there is no model."

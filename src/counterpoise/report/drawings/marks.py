"""What is marked on a machine: where the hand goes, what opens, what is suspected or done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from counterpoise.catalog.family import Family
from counterpoise.catalog.sites import place_of_access, place_of_fault, place_of_work
from counterpoise.report.drawings.tools import sign_for
from counterpoise.report.words.numbers import chance
from counterpoise.workshop.diagnosis.assessment import Step, Suspect
from counterpoise.workshop.jobs.entries import Finding, Job
from counterpoise.workshop.jobs.machine_features import known_features

# three are named and no more: a fourth would be read by nobody who has a machine before them
MOST_NAMED = 3
# below this a suspicion colours nothing: one in fifty
LEAST_TINT = 0.02


@dataclass(frozen=True, slots=True)
class Tag:
    """A label tied to a place; ``kind`` is how it is drawn, ``sign`` the hand or tool on it."""

    place: str
    text: str
    kind: str = "suspect"
    sign: str = ""


@dataclass(frozen=True, slots=True)
class Marks:
    """All that is marked; ``chances`` 0..1 by place, ``has`` the features known of the machine."""

    here: tuple[str, ...] = ()
    opens: tuple[str, ...] = ()
    looked: tuple[str, ...] = ()
    chances: Mapping[str, float] = field(default_factory=dict)
    tags: tuple[Tag, ...] = ()
    has: Mapping[str, str] = field(default_factory=dict)


def place_words(family: Family, place: str) -> str:
    """A place in words: as the drawing calls it, else its assembly, else its own name."""
    if family.drawing is not None and place in family.drawing.places:
        return family.drawing.places[place].title
    if place in family.access:
        return family.access[place].title
    if place in family.assemblies:
        return family.assemblies[place].title
    return place.replace("_", " ").capitalize()


def place_of_step(family: Family, step: Step) -> str:
    """Where a step is done; a proof is of the drum, an ending nowhere (empty)."""
    if step.kind == "check" and step.id in family.checks:
        return place_of_work(family, family.checks[step.id])
    if step.kind == "repair" and step.id in family.repairs:
        return place_of_work(family, family.repairs[step.id])
    if step.kind != "proof" or family.drawing is None:
        return ""
    turns = (family.body.turns, "drum", "basket")
    return next((name for name in turns if name in family.drawing.places), "")


def marks_of_step(
    family: Family,
    step: Step | None,
    suspects: Sequence[Suspect] = (),
    has: Mapping[str, str] | None = None,
) -> Marks:
    """What is marked for a step: its place with hand or tool, panels to open, suspects by chance.

    ``step`` None where there is nothing to do; ``has``: the features known of this machine.
    """
    tags: list[Tag] = []
    opens: tuple[str, ...] = ()
    here, known = "", dict(has or {})
    if step is not None:
        here = place_of_step(family, step)
        check = family.checks.get(step.id) if step.kind == "check" else None
        entry = check or (family.repairs.get(step.id) if step.kind == "repair" else None)
        # a step for a belt is shown at a belt, also where nobody knows yet whether there is one
        known = dict(entry.needs if entry else {}) | known
        ways = {opening.access: opening.title for opening in step.openings}
        sites = {place_of_access(family, access): title for access, title in ways.items()}
        # a panel without a place of its own is named by the page alone
        opens = tuple(site for site in sites if site)
        tags += [Tag(site, title, "open") for site, title in sites.items() if site]
        if here:
            tool = sign_for(step, check.kind if check else "")
            tags.insert(0, Tag(here, place_words(family, here), "here", tool))
    chances, named = _suspected(family, suspects)
    return Marks((here,) if here else (), opens, (), chances, (*tags, *named), known)


def _suspected(
    family: Family, suspects: Sequence[Suspect]
) -> tuple[dict[str, float], tuple[Tag, ...]]:
    """By place how likely the fault is there, 0..1, and the first three by name."""
    chances: dict[str, float] = {}
    tags: list[Tag] = []
    for suspect in suspects:
        fault = family.faults.get(suspect.fault)
        site = place_of_fault(family, fault) if fault else ""
        if not site:
            continue
        # a sound machine is no fault of a place: it is named, and nothing is coloured for it
        if fault is not None and not fault.alone:
            # several faults of one place colour it together
            chances[site] = min(1.0, chances.get(site, 0.0) + suspect.probability)
        if len(tags) < MOST_NAMED and suspect.probability >= LEAST_TINT:
            # what follows a colon explains; on a label the name is enough
            name = suspect.title.partition(":")[0]
            tags.append(Tag(site, f"{name} {chance(suspect.probability)}", "suspect"))
    return {s: c for s, c in chances.items() if c >= LEAST_TINT}, tuple(tags)


def marks_of_job(family: Family, job: Job) -> Marks:
    """What was looked at in a job, by the findings that stand; the last six places by name."""
    counted: dict[str, int] = {}
    for entry in job.standing:
        check = family.checks.get(entry.body.check) if isinstance(entry.body, Finding) else None
        site = place_of_work(family, check) if check else ""
        if site:
            # the last look stands last, so that the newest are named
            counted[site] = counted.pop(site, 0) + 1
    tags = tuple(
        Tag(site, place_words(family, site) + (f", {count} times" if count > 1 else ""), "looked")
        for site, count in list(counted.items())[-2 * MOST_NAMED :]
    )
    return Marks(looked=tuple(counted), tags=tags, has=known_features(family, job))


def marks_of_repairs(family: Family, repairs: Sequence[str], has: Mapping[str, str]) -> Marks:
    """Where the repairs of a quote are done, each by its title; unknown ones are left out."""
    tags: list[Tag] = []
    known = dict(has)
    for name in repairs:
        repair = family.repairs.get(name)
        site = place_of_work(family, repair) if repair else ""
        if repair and site:
            tags.append(Tag(site, repair.title, "here"))
            known = dict(repair.needs) | known
    return Marks(here=tuple(dict.fromkeys(t.place for t in tags)), tags=tuple(tags), has=known)

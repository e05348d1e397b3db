"""The pictures of a page in one call: the machine with its marks, the small ones beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from counterpoise.catalog.family import Family
from counterpoise.report.drawings.machine import machine
from counterpoise.report.drawings.marks import (
    marks_of_job,
    marks_of_repairs,
    marks_of_step,
)
from counterpoise.report.drawings.sketches import beside_form, beside_step, sketch, title_of
from counterpoise.report.drawings.taps import tap_picture
from counterpoise.workshop.diagnosis.assessment import Step, Suspect
from counterpoise.workshop.jobs.entries import Finding, Job
from counterpoise.workshop.jobs.machine_features import known_features


@dataclass(frozen=True, slots=True)
class Small:
    """A small drawing with the words below it."""

    title: str
    svg: Markup


def _safe(svg: str) -> Markup:
    # our own lines; whatever a family or a person wrote was escaped where it was put in
    return Markup(svg)  # noqa: S704


def step_machine(
    family: Family, step: Step | None, suspects: Sequence[Suspect], has: Mapping[str, str]
) -> Markup:
    """The machine with a step's place, its panels and the suspects; ``has``: features known."""
    return _safe(machine(family, marks_of_step(family, step, suspects, has)))


def step_sketches(family: Family, step: Step | None) -> tuple[Small, ...]:
    """The small drawings of a step: how it is done, then what can hurt."""
    return _small(beside_step(family, step))


def form_sketches(kind: str) -> tuple[Small, ...]:
    """The small drawings of a measurement's form."""
    return _small(beside_form(kind))


def looked_machine(family: Family, job: Job) -> Markup:
    """The machine with what was looked at; empty where nothing was."""
    # an empty machine would say nothing
    if not any(isinstance(entry.body, Finding) for entry in job.standing):
        return Markup("")
    # ids of its own: a page may show the step as well
    return _safe(machine(family, marks_of_job(family, job), "looked"))


def job_machine(family: Family, job: Job, step: Step | None, suspects: Sequence[Suspect]) -> Markup:
    """The machine for a job's paper: where to go on, else what was looked at; empty for neither."""
    if job.closed is not None or step is None or step.kind == "ending":
        return looked_machine(family, job)
    return step_machine(family, step, suspects, known_features(family, job))


def work_machine(family: Family, job: Job, repairs: Sequence[str]) -> Markup:
    """The machine with where these repairs are done; empty where none has a place."""
    marks = marks_of_repairs(family, repairs, known_features(family, job))
    return _safe(machine(family, marks, "work") if marks.tags else "")


def tap_machine(family: Family) -> Markup:
    """The machine to tap complaints on: a box of the page has the id ``said-COMPLAINT``."""
    # the names are those of the intake's own boxes: a label finds its box by them
    return _safe(tap_picture(family, {key: f"said-{key}" for key in family.complaints}))


def _small(names: Sequence[str]) -> tuple[Small, ...]:
    return tuple(Small(title_of(name), _safe(sketch(name))) for name in names)

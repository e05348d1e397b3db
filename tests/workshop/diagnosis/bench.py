"""A front loader on the bench, for the tests of the diagnosis: jobs in one line."""

from counterpoise.catalog.loader import load_family
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.kinds.rows import all_rows
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job
from counterpoise.workshop.jobs.settings import Settings

FAMILY = load_family("front_loader")
SHOP = Settings(people=2)


def job(*bodies, owner="customer", complaints=("shakes",), features=None, **more):
    intake = Intake(
        "front_loader", owner, "Veltro 6", complaints, 6.0, features or {"drive": "belt"}, **more
    )
    lines = enumerate((intake, *bodies), 1)
    return Job(1, tuple(Entry(i, "2026-03-01T09:00:00Z", "", body) for i, body in lines))


def case(*bodies, shop=SHOP, **more):
    return JobCase(job(*bodies, **more), FAMILY, shop)


def now(*bodies, **more):
    return replay(FAMILY, SHOP, job(*bodies, **more))


def rows_of(situation):
    """All kinds and sets of faults of a job, as the planner takes them."""
    return all_rows(situation.model, situation.kinds, situation.joint)


def mildest(check, minutes=None):
    return Finding(check, next(iter(FAMILY.checks[check].outcomes)), minutes=minutes)


def worst(check, minutes=None):
    return Finding(check, list(FAMILY.checks[check].outcomes)[-1], minutes=minutes)

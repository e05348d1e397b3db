"""Checks a finding against its check in the catalog, and turns a reading into its outcome."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from counterpoise.errors import InputError, ReadingError
from counterpoise.workshop.jobs.entries import CANNOT_REACH, COULD_NOT_TELL, NOT_THERE, Finding, Job
from counterpoise.workshop.jobs.field_checks import check_fits, check_known, meant

if TYPE_CHECKING:
    from counterpoise.catalog.family import CheckEntry, Family, Reading

# how a number comes out wrong: the comma, the unit, inches for millimetres
_SLIPS = (0.1, 0.01, 0.001, 10.0, 100.0, 1000.0, 1 / 25.4, 25.4)


def check_finding(family: Family, job: Job, body: Finding) -> Finding:
    """Return the finding as it should be stored, a reading with its outcome and error.

    Raises InputError or ReadingError naming field and remedy.
    """
    check_known(body.check, family.checks, "check", "check")
    check = family.checks[body.check]
    check_fits(family, job, check.needs, check.title, "Choose another, or correct the intake")
    # that somebody looked and could not tell is kept: it cost minutes and teaches nothing
    if body.outcome in {COULD_NOT_TELL, CANNOT_REACH} or (
        # only what some machines of the family lack can be missing
        body.outcome == NOT_THERE and check.needs
    ):
        if body.reading is not None or body.weights:
            raise InputError(
                f"outcome: {body.outcome.replace('_', ' ')}, yet a reading is given",
                field="outcome",
                remedy="Leave one out",
            )
        return body
    if body.reading is not None:
        return _measured(check, body, body.reading)
    # an error alone says how sure somebody was, not of what
    if body.reading_sd is not None:
        raise ReadingError(
            "reading: is missing, only its error is given",
            field="reading",
            remedy="Give the reading",
        )
    if body.weights and check.tells:
        raise InputError(
            "weights: what a machine is, is one thing or another",
            field="weights",
            remedy=f"Give the outcome: {' or '.join(check.outcomes)}",
        )
    if body.weights:
        return _weighed(check, body)
    check_known(body.outcome, check.outcomes, "outcome", "answer")
    return body


def outcome_of(check: CheckEntry, value: float) -> str:
    """Return the outcome into which a reading falls; a reading on an edge counts as the worse one.

    ``value`` is in the unit of the check. Raises ReadingError where the check asks for no number.
    """
    reading = _reading_of(check)
    # edges rise with the reading or fall with it; outcomes stand from good to bad
    passed = [value <= edge if reading.falling else value >= edge for edge in reading.edges]
    return list(check.outcomes)[sum(passed)]


def _reading_of(check: CheckEntry) -> Reading:
    if check.reading is None:
        raise ReadingError(
            f"{check.title}: asks for no number",
            field="reading",
            remedy="Choose one of its answers",
        )
    return check.reading


def _measured(check: CheckEntry, body: Finding, value: float) -> Finding:
    reading = _reading_of(check)
    if body.weights:
        raise InputError(
            "weights: a reading is given as well", field="weights", remedy="Leave one out"
        )
    if not (math.isfinite(value) and reading.low <= value <= reading.high):
        allowed = f"Give it in {reading.unit}, between {reading.low:g} and {reading.high:g}"
        likely = meant(value, _SLIPS, reading.low, reading.high)
        raise ReadingError(
            f"{reading.quantity}: {value:g} {reading.unit} cannot be",
            field="reading",
            remedy=f"Did you mean {likely:.3g} {reading.unit}? {allowed}" if likely else allowed,
        )
    # the catalog's error is that of the usual tool in usual hands
    sd = reading.sd if body.reading_sd is None else body.reading_sd
    # an error wider than the scale says that nothing was measured
    if not 0 < sd <= reading.high - reading.low:
        raise ReadingError(
            f"reading_sd: {sd:g} {reading.unit} cannot be its error",
            field="reading_sd",
            remedy="Give it above zero",
        )
    outcome = outcome_of(check, value)
    # a reading and an answer that disagree are two findings, and one of them is wrong
    if body.outcome not in {"", outcome}:
        raise ReadingError(
            f"{value:g} {reading.unit} means {check.outcomes[outcome]!r},"
            f" but {body.outcome!r} is given as well",
            field="outcome",
            remedy="Give the reading alone",
        )
    return replace(body, outcome=outcome, reading_sd=sd)


def _weighed(check: CheckEntry, body: Finding) -> Finding:
    """Return soft evidence with the likeliest answer standing for it where none is given."""
    count = len(check.outcomes)
    sound = (
        len(body.weights) == count
        and all(math.isfinite(w) and w >= 0 for w in body.weights)
        and sum(body.weights) > 0
    )
    if not sound:
        remedy = f"Give {count} numbers, none below zero and not all zero, one for each answer"
        raise InputError(
            "weights: do not fit the answers of the check", field="weights", remedy=remedy
        )
    if body.outcome:
        check_known(body.outcome, check.outcomes, "outcome", "answer")
        return body
    # only for the eye: the belief takes the weights
    likeliest = max(range(count), key=body.weights.__getitem__)
    return replace(body, outcome=list(check.outcomes)[likeliest])

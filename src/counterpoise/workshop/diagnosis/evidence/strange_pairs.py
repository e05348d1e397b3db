"""Findings that hardly go together, in words: what speaks against what, and what to do again."""

from __future__ import annotations

from counterpoise.workshop.diagnosis.assessment import StrangePair
from counterpoise.workshop.diagnosis.evidence.contradictions import Contradiction
from counterpoise.workshop.diagnosis.phrases import how_rare, minutes_text
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.diagnosis.steps import StepBuilder


def strange_pairs(situation: Situation) -> tuple[StrangePair, ...]:
    """What goes badly together, the strangest first, with the cheaper of two to be done again."""
    return tuple(_pair(situation, each) for each in situation.contradictions)


def _pair(situation: Situation, each: Contradiction) -> StrangePair:
    checks, minutes = situation.family.checks, StepBuilder.of(situation).minutes
    one, other = checks[each.check], checks.get(each.against)
    left = sorted(situation.again.intersection(each.checks))
    repeat = min(left, key=lambda name: minutes(checks[name]), default="")
    took = minutes(checks[repeat]) if repeat else 0.0
    return StrangePair(
        check=each.check,
        title=one.title,
        outcome=each.outcome,
        against=each.against,
        against_title=other.title if other else "",
        against_outcome=each.against_outcome,
        chance=each.chance,
        repeat=repeat,
        minutes=took,
        text=_text(situation, each, repeat, took),
    )


def _text(situation: Situation, each: Contradiction, repeat: str, minutes: float) -> str:
    rare = how_rare(each.chance)
    first = _said(situation, each.check, each.outcome)
    if not each.against:
        text = f"{first} hardly goes with all else that was found: {rare}."
        who = "It is probably wrong, or something is wrong that the catalog does not know"
    elif each.against == each.check:
        text = f"{first} is not what the same check said before: {rare}."
        who = "One of the two is probably wrong"
    else:
        second = _said(situation, each.against, each.against_outcome)
        text = f"{first} and {second} hardly go together: {rare}."
        who = "One of the two is probably wrong"
    if not repeat:
        return f"{text} {who}."
    title = situation.family.checks[repeat].title
    return f'{text} {who}: do "{title}" again, {minutes_text(minutes)}.'


def _said(situation: Situation, check: str, outcome: str) -> str:
    """A check and what it showed: ``"Press on the four corners" (It rocks)``."""
    entry = situation.family.checks[check]
    return f'"{entry.title}" ({entry.outcomes[outcome]})'

"""All rules of content together: applied to a family, and listed for the manual."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.catalog.rules import danger, drawn, figures
from counterpoise.catalog.rules.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from counterpoise.catalog.family import Family
    from counterpoise.catalog.rules.rule import Broken

RULES: tuple[Rule, ...] = (*danger.RULES, *figures.RULES, *drawn.RULES)


def broken_rules(family: Family, *, shipped: bool) -> Iterator[tuple[Rule, Broken]]:
    """What breaks a rule, where, and which rule; nothing where all are kept.

    ``shipped``: what is demanded of shipped families alone counts too.
    """
    for rule in RULES:
        if shipped or rule.level != "shipped":
            for broken in rule.broken(family):
                yield rule, broken


def table() -> str:
    """The rules as a table of the manual, in Markdown."""
    rows = [f"| `{rule.id}` | {rule.level} | {rule.demands} | {rule.remedy} |" for rule in RULES]
    return "\n".join(
        ["| rule | level | what it demands | what to do |", "|---|---|---|---|", *rows]
    )

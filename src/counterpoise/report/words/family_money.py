"""What the machines of a family are worth and how long they live, in words, each with its origin.

Settings, decision, guarantee, yard and ``worth`` say the same of a figure: what it is, and whether
the workshop set it, the family's file says it, or it is assumed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from counterpoise.catalog.family import Family
from counterpoise.report.words.numbers import money
from counterpoise.workshop.jobs.family_money import MoneyFigure, figures_of
from counterpoise.workshop.jobs.settings import BY_FAMILY, Settings, family_key

# which figures a machine is weighed with, by who owns it
USED_FOR: Mapping[str, tuple[str, ...]] = {
    "customer": ("new_machine_minor", "life_shape", "life_scale_years", "comeback_minor"),
    "workshop": (
        "resale_new_minor",
        "resale_fall_percent",
        "as_is_percent",
        "scrap_minor",
        "comeback_minor",
        "selling_minutes",
        "days_to_sell",
    ),
}
# a repair against a new machine
REPLACING = ("new_machine_minor", "life_shape", "life_scale_years")
GUARANTEEING = ("comeback_minor", "life_shape", "life_scale_years")
# in small letters: they stand one after the other in a sentence; {} is the figure with its unit
_WORDS: Mapping[str, str] = {
    "new_machine_minor": "a comparable new machine {}",
    "resale_new_minor": "a repaired one, as new, sells for {}",
    "resale_fall_percent": "it loses {} % of that a year",
    "as_is_percent": "unrepaired it fetches {} % of that",
    "scrap_minor": "scrapping brings {}",
    "comeback_minor": "one that comes back costs {}",
    "selling_minutes": "selling one takes {} minutes",
    "days_to_sell": "until it is sold {} days",
    "life_shape": "how steeply failures rise with age {}",
    "life_scale_years": "age by which 63 of 100 are worn out {} years",
}
_ASSUMED = "assumed: the workshop's general setting"


@dataclass(frozen=True, slots=True)
class FigureLine:
    """A figure of a family: ``words`` say it, ``where`` where it is from.

    ``origin`` is workshop, family, general or job; ``of_family`` what the family's file says, None
    where it says nothing. Money is minor units.
    """

    name: str
    value: int | float
    origin: str
    words: str
    where: str
    of_family: int | float | None = None


@dataclass(frozen=True, slots=True)
class FamilyFigures:
    """All figures of a family; ``assumed``: a sentence on those that it does not bring, or none."""

    family: str
    title: str
    figures: tuple[FigureLine, ...]
    assumed: str


def family_figures(
    family: Family, settings: Settings, names: Sequence[str] = BY_FAMILY
) -> FamilyFigures:
    """The figures of a family in this workshop, those of ``names``."""
    return FamilyFigures(
        family.id,
        family.title,
        figure_lines(family, settings, names),
        assumed(family, settings, names),
    )


def figure_lines(
    family: Family,
    settings: Settings,
    names: Sequence[str] = BY_FAMILY,
    new_minor: int | None = None,
) -> tuple[FigureLine, ...]:
    """The figures of ``names``; ``new_minor``: what a job says that a new machine costs."""
    return tuple(
        _line(family, settings, each, new_minor)
        for each in figures_of(family, settings)
        if each.name in names
    )


def assumed(
    family: Family,
    settings: Settings,
    names: Sequence[str] = BY_FAMILY,
    new_minor: int | None = None,
) -> str:
    """A sentence on the figures assumed because the family's file leaves them out; empty for none.

    It says how to set them. ``new_minor``: as for :func:`figure_lines`.
    """
    lines = figure_lines(family, settings, names, new_minor)
    lacking = [line for line in lines if line.origin == "general"]
    if not lacking:
        return ""
    what = ", ".join(line.words for line in lacking)
    key = family_key(family.id, lacking[0].name)
    return (
        f"{family.title}: its file does not say it, so the workshop's general figures are taken: "
        f"{what}. What holds for this kind can be set, as {key}."
    )


def assumed_lines(families: Iterable[Family], settings: Settings) -> tuple[str, ...]:
    """Such a sentence for each family that leaves figures out; empty where none does."""
    return tuple(text for family in families if (text := assumed(family, settings)))


def _line(
    family: Family, settings: Settings, figure: MoneyFigure, new_minor: int | None
) -> FigureLine:
    value, origin = figure.value, str(figure.origin)
    where = _where(family, figure, settings.currency)
    # what was asked for this one machine goes before any figure of its kind
    if figure.name == "new_machine_minor" and new_minor is not None:
        value, origin, where = new_minor, "job", "saved for this job"
    words = _WORDS[figure.name].format(_amount(figure.name, value, settings.currency))
    return FigureLine(figure.name, value, origin, words, where, figure.of_family)


def _where(family: Family, figure: MoneyFigure, currency: str) -> str:
    if figure.origin == "general":
        return _ASSUMED
    if figure.origin == "workshop":
        # beside it, so that somebody sees how far the workshop is from the book
        own = figure.of_family
        said = (
            "" if own is None else f"; the family file says {_amount(figure.name, own, currency)}"
        )
        return f"set by this workshop{said}"
    change = next((c for c in family.changes if c.place == f"money.{figure.name}"), None)
    if change is not None:
        was = "" if change.shipped is None else _amount(figure.name, change.shipped, currency)
        here = f"changed by this workshop from {was}" if was else "added by this workshop"
        why = f" ({change.why})" if change.why else ""
        return f"by the family file, {here}, {change.source}{why}"
    source = family.sources.get(figure.source)
    # "from memory" reads as it stands; a published source goes by its title
    named = source.title if source and " " not in figure.source else figure.source
    return f"by the family file, {named}" if named else "by the family file"


def _amount(name: str, value: float, currency: str) -> str:
    return money(int(value), currency) if name.endswith("_minor") else f"{value:g}"

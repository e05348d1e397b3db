"""What a machine yields as a donor, and the labels for it and its parts."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.catalog.family import Family
from counterpoise.report.views.job import JobView
from counterpoise.workshop.billing.donor_yield import AssemblyYield, assembly_yields
from counterpoise.workshop.diagnosis.steps import stripping_cautions


@dataclass(frozen=True, slots=True)
class Label:
    """A label: the large line, the small lines under it."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Salvage:
    """A piece that can be put on the shelf; ``keep``: it is of an assembly worth keeping."""

    item: str
    title: str
    good: float
    keep: bool


@dataclass(frozen=True, slots=True)
class Donor:
    """The assemblies of a machine by what they bring; ``labels`` for the machine and for what is worth keeping.

    ``pieces``: what can be put on the shelf.
    """

    workshop: str
    number: int
    currency: str
    parts: tuple[AssemblyYield, ...]
    cautions: tuple[str, ...]
    labels: tuple[Label, ...]
    pieces: tuple[Salvage, ...] = ()


def donor(view: JobView) -> Donor:
    """What the machine of a job yields."""
    family, intake = view.family, view.job.intake
    found = assembly_yields(view.snapshot)
    made = " ".join(part for part in (intake.maker, intake.model) if part)
    machine = Label(
        view.title,
        tuple(line for line in (made, intake.serial and f"Serial {intake.serial}") if line),
    )
    parts = tuple(
        Label(one.title, (f"From: {made or family.title}", _tested(one)))
        for one in found
        if one.keep
    )
    return Donor(
        workshop=view.settings.workshop_name,
        number=view.job.number,
        currency=view.currency,
        parts=found,
        cautions=stripping_cautions(family),
        labels=(machine, *parts),
        pieces=tuple(
            Salvage(p, _title(family, p), one.good, one.keep) for one in found for p in one.pieces
        ),
    )


def _title(family: Family, item: str) -> str:
    return (family.parts.get(item) or family.assemblies[item]).title


def _tested(one: AssemblyYield) -> str:
    from counterpoise.money.quote import out_of_ten

    return f"Good {out_of_ten(one.good)}; test before use"

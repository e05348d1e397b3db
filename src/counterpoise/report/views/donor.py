"""What a machine yields as a donor, and the labels for it and its parts."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.catalog.family import Family
from counterpoise.money.quote import out_of_ten
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
    """A piece that can be put on the shelf, good with this probability.

    ``keep``: it is of an assembly worth keeping.
    """

    item: str
    title: str
    # of the day it comes off: later findings on the machine change it
    good: float
    keep: bool


@dataclass(frozen=True, slots=True)
class Donor:
    """The assemblies of a machine by what they bring, and the ``labels`` for what is worth keeping.

    ``pieces``: what can be put on the shelf. The cautions stand before any panel comes off.
    """

    workshop: str
    number: int
    currency: str
    parts: tuple[AssemblyYield, ...]
    cautions: tuple[str, ...]
    labels: tuple[Label, ...]
    pieces: tuple[Salvage, ...] = ()


def donor(view: JobView) -> Donor:
    """What the machine of a job yields, the assembly that brings the most first."""
    assemblies = assembly_yields(view.snapshot)
    return Donor(
        workshop=view.settings.workshop_name,
        number=view.job.number,
        currency=view.currency,
        parts=assemblies,
        # before anything else on the page: a capacitor holds its charge after the plug is out
        cautions=stripping_cautions(view.family, view.situation.known),
        labels=_labels(view, assemblies),
        pieces=tuple(
            Salvage(piece, _title(view.family, piece), assembly.good, assembly.keep)
            for assembly in assemblies
            for piece in assembly.pieces
        ),
    )


def _labels(view: JobView, assemblies: tuple[AssemblyYield, ...]) -> tuple[Label, ...]:
    """One label for the machine, and one for each assembly worth keeping."""
    intake = view.job.intake
    made = " ".join(part for part in (intake.maker, intake.model) if part)
    serial = f"Serial {intake.serial}" if intake.serial else ""
    # the machine itself is labelled first: until it is stripped it stands in the yard
    machine = Label(view.title, tuple(line for line in (made, serial) if line))
    origin = f"From: {made or view.family.title}"
    parts = (
        Label(assembly.title, (origin, _good_words(assembly)))
        for assembly in assemblies
        if assembly.keep
    )
    return (machine, *parts)


def _title(family: Family, item: str) -> str:
    return (family.parts.get(item) or family.assemblies[item]).title


def _good_words(assembly: AssemblyYield) -> str:
    # a label is read years later by somebody else: it must not promise a sound part
    return f"Good {out_of_ten(assembly.good)}; test before use"

"""What is agreed for one job: used parts, kinds of parts, discounts, a guarantee that is waived."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.money.order import Quality
from counterpoise.money.part_offers import QUALITIES
from counterpoise.workshop.jobs.suggestions import did_you_mean
from counterpoise.workshop.parts.offers import PartChoice, Supply

# What was typed is named again in a message, but not at any length.
_MOST_QUOTED, _MOST_KIND_QUOTED = 60, 40


@dataclass(frozen=True)
class Terms:
    """What is agreed for one job: used parts where they can be had, discounts, no guarantee.

    A discount reads "10%" or "12.50" off the whole, "labour:10%" or "replace_belt:5" off a kind of
    lines or one line. ``charged``: paid for although the guarantee covers it. ``kinds``: (part, new
    or pattern or used) for single parts.
    """

    used: bool = False
    discounts: tuple[str, ...] = ()
    charged: bool = False
    kinds: tuple[tuple[str, str], ...] = ()

    def choice(self, family: Family, supply: Supply) -> PartChoice:
        """Which offers are chosen. Raises InputError for a part or kind that is not known."""
        return PartChoice(supply, self.used, checked_kinds(family, self.kinds))


AS_USUAL = Terms()


def checked_kinds(family: Family, kinds: Iterable[tuple[str, str]]) -> dict[str, Quality]:
    """Kinds of parts by part id, as chosen. Raises InputError for an unknown part or kind."""
    # read from a form or a command line, so every word may be wrong
    checked: dict[str, Quality] = {}
    for part, kind in kinds:
        if part not in family.parts:
            hint = did_you_mean(part[:_MOST_QUOTED], family.parts)
            raise InputError(
                f"part: there is no {part[:_MOST_QUOTED]!r}", field="part", remedy=hint
            )
        # compared with the known words, so that the type checker knows it too
        quality = next((each for each in QUALITIES if each == kind), None)
        if quality is None:
            raise InputError(
                f"part: {kind[:_MOST_KIND_QUOTED]!r} is no kind",
                field="part",
                remedy="Say new, pattern or used",
            )
        checked[part] = quality
    return checked

"""A figure of a shipped family that the workshop changed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ChangedFigure:
    """A figure by its ``place`` (``faults.belt_worn.prior``), as shipped and as it is here.

    ``shipped`` is None where the shipped file leaves the figure out; ``source``: where the new one
    is from; ``why`` is empty where nothing more was written.
    """

    place: str
    shipped: float | None
    here: float
    source: str
    why: str = ""

    @property
    def text(self) -> str:
        """As it is said wherever a figure shows where it is from."""
        was = "" if self.shipped is None else f"from {_number(self.shipped)} "
        why = f" ({self.why})" if self.why else ""
        return f"changed by this workshop {was}to {_number(self.here)}, {self.source}{why}"


def _number(value: float) -> str:
    # ten digits: amounts in minor units are long, and no figure of a catalog is longer
    return f"{value:.10g}"

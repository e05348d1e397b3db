"""A figure of one machine that a job can keep, as a frozen record of the catalog."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class FigureEntry:
    """A figure of one machine that a job can keep (mass, dampers), from ``low`` to ``high``.

    ``values``: the only ones possible, where there are few. ``twin`` names the figure of the
    machine as physics that it sets, ``scale`` times as large. ``intake``: asked when the machine
    comes in; ``where`` says how to come by it.
    """

    id: str
    title: str
    unit: str
    # readings beyond these are refused as slips of the pen
    low: float
    high: float
    where: str
    source: str
    # pieces are counted
    whole: bool = False
    values: tuple[float, ...] = ()
    twin: str | None = None
    scale: float = 1.0
    intake: bool = False
    # only machines with these features have it
    needs: Mapping[str, str] = field(default_factory=dict)

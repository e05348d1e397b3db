"""A number with its range and its source."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Value:
    """Default, range, unit and provenance of one family value."""

    default: float
    low: float
    high: float
    unit: str
    source: str
    whole: bool = False
    drawn: bool = True  # False: random machines keep the default
